"""Two studios put their paper books together, and nothing is chosen behind them."""

from dataclasses import replace
from datetime import date

import pytest

from printplan.errors import RecordError
from printplan.lessons import RestorePick, SpreadReading
from printplan.media import (
    FeedPath,
    Margins,
    Paper,
    PaperOnPrinter,
    Printer,
    Stock,
    Surface,
)
from printplan.record.merge_books import Side, merge_books
from printplan.record.papers import PaperBook, read_paper_book, write_paper_book

HASH = "ab" * 32

# Both studios, their printers and papers are invented.
FEED = FeedPath(
    name="sheet slot",
    margins=Margins(leading_mm=3, trailing_mm=14, left_mm=3, right_mm=3),
    shortest_mm=100,
    longest_mm=900,
    narrowest_mm=89,
    widest_mm=610,
    thinnest_um=80,
    thickest_um=1500,
)
PRINTER = Printer(
    name="Studio 24",
    black_inks=("matte black", "grey black"),
    feeds=(FEED,),
    input_ppi=(300.0, 360.0),
)
READING = SpreadReading(
    on=date(2026, 5, 3),
    sigma_um=48.1,
    uncertainty_um=0.9,
    edges=16,
    scan_ppi=1200,
    cycles_per_mm=(1.0, 4.0),
    contrast_left=(0.9, 0.4),
)
PICK = RestorePick(on=date(2026, 5, 3), offered=(0.5, 1.0), picked=1.0)
PAIR = PaperOnPrinter(
    printer="Studio 24",
    profile="/mine/fen.icc",
    black_ink="matte black",
    media_type="Cotton, thick",
    feeds=("sheet slot",),
    profile_sha256=HASH,
    spread_readings=(READING,),
)
FEN = Paper(
    name="Fen Cotton 310",
    surface=Surface.MATTE,
    weight_gsm=310,
    thickness_um=520,
    spread_um=50,
    on_printer=(PAIR,),
    stock=(Stock(sheet="A3", sheets_left=11, price_each=4.8),),
)
BOOK = PaperBook(printers=(PRINTER,), papers=(FEN,), currency="EUR")


def with_fen(**changes):
    return replace(BOOK, papers=(replace(FEN, **changes),))


def with_pair(**changes):
    return with_fen(on_printer=(replace(PAIR, **changes),))


def test_a_book_and_itself_are_that_book():
    merged = merge_books(BOOK, BOOK)
    assert (merged.conflicts, merged.added) == ((), ())
    assert merged.settled() == BOOK


def test_papers_and_printers_of_both_are_kept():
    tarn = replace(FEN, name="Tarn Gloss", surface=Surface.GLOSS, on_printer=())
    other = replace(PRINTER, name="Studio 17")
    merged = merge_books(
        replace(BOOK, printers=(PRINTER,)),
        replace(BOOK, printers=(other,), papers=(tarn,)),
    )
    assert merged.conflicts == ()
    assert merged.added == ('printer "Studio 17"', 'paper "Tarn Gloss"')
    assert merged.settled() == replace(
        BOOK, printers=(PRINTER, other), papers=(FEN, tarn)
    )


def test_a_contradiction_is_listed_with_both_values_and_not_decided():
    merged = merge_books(BOOK, with_fen(spread_um=47.0, weight_gsm=300))
    assert [(it.place, it.mine, it.theirs) for it in merged.conflicts] == [
        ('paper "Fen Cotton 310" weight_gsm', 310, 300),
        ('paper "Fen Cotton 310" spread_um', 50, 47.0),
    ]
    with pytest.raises(
        RecordError, match=r"2 of 2 conflicts.*310 here, 300 there"
    ) as it:
        merged.settled()
    assert it.value.remedy == 'Choose "mine" or "theirs" for each place.'


def test_each_contradiction_is_settled_by_its_own_choice():
    merged = merge_books(BOOK, with_fen(spread_um=47.0, weight_gsm=300))
    weight, spread = (it.place for it in merged.conflicts)
    book = merged.settled({weight: Side.MINE, spread: Side.THEIRS})
    assert book == with_fen(spread_um=47.0)
    with pytest.raises(RecordError, match="no conflict at somewhere"):
        merged.settled({weight: Side.MINE, spread: Side.MINE, "somewhere": Side.MINE})


@pytest.mark.parametrize(
    ("theirs", "place"),
    [
        (with_pair(black_ink="grey black"), 'on "Studio 24" black_ink'),
        (with_pair(media_type="Cotton"), 'on "Studio 24" media_type'),
        (with_pair(profile_sha256="cd" * 32), 'on "Studio 24" profile_sha256'),
        (
            with_fen(stock=(Stock(sheet="A3", sheets_left=2, price_each=4.8),)),
            'stock "A3" sheets_left',
        ),
    ],
)
def test_contradiction_deep_in_a_paper_is_found(theirs, place):
    merged = merge_books(BOOK, theirs)
    assert [it.place for it in merged.conflicts] == [f'paper "Fen Cotton 310" {place}']


def test_margins_of_a_feed_path_are_compared():
    wider = replace(FEED, margins=replace(FEED.margins, left_mm=5))
    merged = merge_books(
        BOOK, replace(BOOK, printers=(replace(PRINTER, feeds=(wider,)),))
    )
    (conflict,) = merged.conflicts
    assert conflict.place == (
        'printer "Studio 24" feed path "sheet slot" margins left_mm'
    )


def test_what_only_one_knows_is_no_contradiction():
    merged = merge_books(BOOK, with_fen(white_lab=(95.9, -0.3, 1.6), note="curls"))
    assert merged.conflicts == ()
    assert merged.added == (
        'paper "Fen Cotton 310" white_lab',
        'paper "Fen Cotton 310" note',
    )
    assert merged.settled() == with_fen(white_lab=(95.9, -0.3, 1.6), note="curls")
    assert merge_books(with_fen(note="curls"), BOOK).settled() == with_fen(note="curls")


def test_lessons_of_both_are_kept_once():
    second = replace(READING, on=date(2026, 6, 1), sigma_um=47.0)
    merged = merge_books(
        BOOK, with_pair(spread_readings=(READING, second), restore_picks=(PICK,))
    )
    assert merged.conflicts == ()
    assert merged.settled() == with_pair(
        spread_readings=(READING, second), restore_picks=(PICK,)
    )


def test_the_same_profile_may_lie_elsewhere():
    merged = merge_books(BOOK, with_pair(profile="/theirs/fen.icc"))
    assert merged.conflicts == ()
    assert merged.settled() == BOOK
    unknown = {"profile_sha256": ""}
    merged = merge_books(
        with_pair(**unknown), with_pair(profile="/theirs/fen.icc", **unknown)
    )
    assert [it.theirs for it in merged.conflicts] == ["/theirs/fen.icc"]


def test_a_name_in_other_case_is_the_same_paper():
    merged = merge_books(BOOK, with_fen(name="FEN cotton 310"))
    (conflict,) = merged.conflicts
    assert (conflict.mine, conflict.theirs) == ("Fen Cotton 310", "FEN cotton 310")


def test_prices_keep_their_currency():
    """4.80 euro and 4.80 pounds are two prices."""
    merged = merge_books(BOOK, replace(BOOK, currency="GBP"))
    assert [(it.place, it.mine, it.theirs) for it in merged.conflicts] == [
        ('paper "Fen Cotton 310" stock "A3" currency', "EUR", "GBP"),
        ("currency", "EUR", "GBP"),
    ]
    book = merged.settled(dict.fromkeys((it.place for it in merged.conflicts), "mine"))
    assert book.currency == "EUR"


def test_values_that_do_not_go_together_are_refused():
    """My shortest sheet with their longest one would leave no sheet at all."""
    small = replace(FEED, shortest_mm=50, longest_mm=90)
    merged = merge_books(
        BOOK, replace(BOOK, printers=(replace(PRINTER, feeds=(small,)),))
    )
    sides = {it.place: "mine" for it in merged.conflicts}
    longest = next(place for place in sides if place.endswith("longest_mm"))
    with pytest.raises(RecordError, match="contradicts itself") as caught:
        merged.settled({**sides, longest: "theirs"})
    assert "belong together" in caught.value.remedy


def test_a_settled_book_can_be_written_and_read(tmp_path):
    merged = merge_books(BOOK, with_fen(note="curls", spread_um=47.0))
    (conflict,) = merged.conflicts
    book = merged.settled({conflict.place: Side.THEIRS})
    write_paper_book(book, tmp_path / "both.toml")
    assert read_paper_book(tmp_path / "both.toml") == book


def test_settings_and_the_ink_that_they_need_are_settled_together():
    """Their paper needs an ink that my printer, by my book, does not have."""
    grey = replace(PAIR, black_ink="grey black")
    tarn = replace(FEN, name="Tarn Gloss", on_printer=(grey,))
    one_ink = replace(PRINTER, black_inks=("matte black",))
    merged = merge_books(
        replace(BOOK, printers=(one_ink,)), replace(BOOK, papers=(tarn,))
    )
    (conflict,) = merged.conflicts
    assert conflict.place == 'printer "Studio 24" black_inks'
    assert merged.settled({conflict.place: "theirs"}).papers == (FEN, tarn)
    with pytest.raises(RecordError, match="grey black"):
        merged.settled({conflict.place: "mine"})
