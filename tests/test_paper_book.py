import re
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.errors import PrintPlanError, RecordError, SpecError
from printplan.measurements import RestorePick, SpreadReading
from printplan.media import (
    FeedPath,
    Margins,
    Paper,
    PaperOnPrinter,
    Printer,
    Service,
    ServicePaper,
    Stock,
    Surface,
)
from printplan.record import atomic_write, lock_file
from printplan.record.book_changes import (
    add_paper,
    add_printer,
    change_paper,
    change_printer,
    update_paper,
)
from printplan.record.paper_book import (
    BOOK_COMMENTS,
    PaperBook,
    read_paper_book,
    write_paper_book,
)

HASH = "ab" * 32

# The studio, its printers and its papers are invented.
MARGINS = Margins(leading_mm=3, trailing_mm=14, left_mm=3.4, right_mm=3.4)


READING = SpreadReading(
    on=date(2026, 5, 3),
    sigma_um=48.1,
    uncertainty_um=0.9,
    edges=16,
    scan_ppi=1200,
    cycles_per_mm=(1.0, 4.0, 8.0),
    contrast_left=(0.95, 0.48, 0.05),
)
PICK = RestorePick(
    on=date(2026, 5, 3), offered=(0.5, 0.75, 1.0), picked=0.75, distance_mm=400
)


STOCK = (
    Stock(sheet="A3", sheets_left=11, price_each=4.8),
    Stock(roll_width_mm=610.0, roll_length_m=30.0, left_m=17.5, currency="GBP"),
    Stock(sheet="13x19 in"),
)


def feed(name):
    return FeedPath(
        name=name,
        margins=MARGINS,
        shortest_mm=100,
        longest_mm=900,
        narrowest_mm=89,
        widest_mm=610,
        thinnest_um=80,
        thickest_um=1500,
    )


def printer(name="Studio 24"):
    return Printer(
        name=name,
        black_inks=("matte black", "photo black"),
        feeds=(feed("sheet slot"), feed("roll")),
        input_ppi=(300.0, 360.0),
    )


def pair(**changes):
    return PaperOnPrinter(
        **{
            "printer": "Studio 24",
            "profile": "/profiles/fen.icc",
            "black_ink": "matte black",
            "media_type": "Cotton, thick",
            "feeds": ("sheet slot",),
        }
        | changes
    )


def paper(name="Fen Cotton 310", *pairs, **changes):
    return Paper(
        **{
            "name": name,
            "surface": Surface.MATTE,
            "weight_gsm": 310.0,
            "thickness_um": 560.0,
            "psf_sigma_um": 50.0,
            "on_printer": pairs,
        }
        | changes
    )


def book(*papers):
    return PaperBook(printers=(printer(), printer("Studio 17")), papers=papers)


TYPED = """\
# The studio in the mill. Ask before you change this.
format = "printplan paper book"
format_version = 1

[[printer]]     # serviced in May
name = "Studio 24"
black_inks = ["matte black", "photo black"]
input_ppi = [300, 360]
  [[printer.feeds]]
  name = "sheet slot"
  shortest_in = 4          # measured
  longest_mm = 900
  narrowest_mm = 89
  widest_in = 24
  thinnest_um = 80
  thickest_um = 1_500
  margins = { leading_mm = 3, trailing_mm = 14, left_mm = 3, right_mm = 3 }

# ---- matte ----
[[paper]]
name = "Fen Cotton 310"  # lot 7
surface = 'matte'
weight_gsm = 310.0
thickness_um = 5.6e2
psf_sigma_um = 50           # from the scan of 3 May
note = '''
curls in winter
'''

[[paper.on_printer]]     # the good profile
printer = "Studio 24"
profile = "profiles/../profiles/fen.icc"
black_ink = "matte black"
media_type = "Cotton, thick"
feeds = ["sheet slot"]
# end of matte

# ---- glossy ----
[[paper]]
surface = "gloss"
name = "Tarn Gloss"
weight_gsm = 260
thickness_um = 280
psf_sigma_um = 28
on_printer = []          # not set up yet
# the end
"""


@pytest.fixture
def typed(tmp_path):
    path = tmp_path / "papers.toml"
    path.write_text(TYPED)
    return path


def test_book_comes_back_as_written(tmp_path):
    path = tmp_path / "papers.toml"
    below = str(tmp_path / "profiles" / "fen.icc")
    written = book(
        paper("Fen Cotton 310", pair(profile=below), pair(printer="Studio 17")),
        paper("Tarn Gloss", surface=Surface.GLOSS, stock=STOCK),
    )
    write_paper_book(written, path)
    assert read_paper_book(path) == written
    text = path.read_text()
    assert 'profile = "profiles/fen.icc"' in text
    assert 'profile = "/profiles/fen.icc"' in text


def test_profile_beside_the_books_folder_is_told_as_records_tell_it(tmp_path):
    """A whole path without steps up; the book keeps what was typed."""
    folder = tmp_path / "lesson"
    folder.mkdir()
    near = book(paper("Fen", pair(profile="../profiles/fen.icc")))
    write_paper_book(near, folder / "papers.toml")
    fen = read_paper_book(folder / "papers.toml").paper("Fen")
    assert fen.on_printer[0].profile == str(tmp_path / "profiles" / "fen.icc")
    update_paper(folder / "papers.toml", replace(fen, note="Seen again."))
    assert 'profile = "../profiles/fen.icc"' in (folder / "papers.toml").read_text()
    assert read_paper_book(folder / "papers.toml").paper("Fen").note == "Seen again."


def test_moved_studio_finds_its_profiles_again(tmp_path):
    old, new = tmp_path / "old", tmp_path / "new"
    old.mkdir()
    profile = str(old / "profiles" / "fen.icc")
    write_paper_book(book(paper("Fen", pair(profile=profile))), old / "papers.toml")
    old.rename(new)
    moved = read_paper_book(new / "papers.toml").paper("Fen").on_printer[0].profile
    assert Path(moved) == new / "profiles" / "fen.icc"


def test_empty_book_can_be_filled_by_hand(tmp_path):
    path = tmp_path / "papers.toml"
    write_paper_book(PaperBook(printers=(), papers=()), path)
    assert read_paper_book(path) == PaperBook(printers=(), papers=())
    path.write_text(path.read_text() + TYPED[TYPED.index("[[printer]]") :])
    assert len(read_paper_book(path).papers) == 2


SERVICE = Service(
    name="Harbour Prints",
    papers=(
        ServicePaper(
            name="Lapwing Lustre 270",
            surface="satin",
            weight_gsm=270.0,
            thickness_um=260.0,
            psf_sigma_um=28.0,
            proof_profile="/profiles/lustre.icc",
        ),
    ),
    takes_converted=True,
    most_pixels=60_000_000,
    longest_px=12_000,
    most_mb=25.0,
    jpeg_quality=80,
    bleed_mm=3.0,
    instructions="rolled, in a tube",
    in_use=False,
)


def test_comments_belong_to_keys_that_are_written(tmp_path):
    path = tmp_path / "papers.toml"
    taught = pair(
        spread_readings=(READING,),
        restore_picks=(PICK,),
        setup="best",
        quality="finest",
        driver_resolution="1200 dpi",
        platen_gap="wide",
        ink_limit_percent=280.0,
        in_use=False,
    )
    known = {
        "white_lab": (96.0, -0.5, 2.0),
        "drying_h": 12.0,
        "stock": (replace(STOCK[0], reorder_at=5.0), *STOCK[1:]),
        "in_use": False,
        "former_names": ("Fen 310",),
    }
    slot = replace(feed("sheet slot"), margins_source="its manual", borderless=("A3",))
    whole = replace(
        printer(),
        feeds=(slot,),
        driver_colour="CMYK",
        media_types=("Cotton, thick",),
        qualities=("finest", "quick"),
        driver_resolutions=("1200 dpi",),
        platen_gaps=("wide",),
        m2_per_h=4.5,
        ipp_address="ipp://localhost:8631/ipp/print",
        in_use=False,
        former_names=("Big one",),
        inks=("cyan", "matte black", "photo black"),
        longest_print_mm=1219.0,
        ink_price_per_ml=0.6,
    )
    written = PaperBook(
        printers=(whole,),
        papers=(paper("Fen", taught, **known),),
        currency="EUR",
        lengths_in="in",
        hourly_rate=36.0,
        services=(SERVICE,),
    )
    write_paper_book(written, path)
    assert read_paper_book(path) == written
    text = path.read_text()
    for place, comment in BOOK_COMMENTS.items():
        lines = [line for line in text.splitlines() if line.endswith(f" # {comment}")]
        key = place.rsplit(".", 1)[-1]
        assert any(
            line.startswith(f"{key} =") or f"{place}]" in line for line in lines
        ), place


def test_typed_book_is_read(typed):
    found = read_paper_book(typed)
    feed_path = found.printer("Studio 24").feed("sheet slot")
    # By the international inch of exactly 25.4 mm.
    assert feed_path.shortest_mm == pytest.approx(101.6, abs=1e-9)
    assert feed_path.widest_mm == pytest.approx(609.6, abs=1e-9)
    fen = found.paper("Fen Cotton 310")
    assert fen.thickness_um == 560
    assert fen.note == "curls in winter\n"
    assert Path(fen.on_printer[0].profile).resolve() == (
        typed.parent / "profiles" / "fen.icc"
    )


@pytest.mark.parametrize(
    ("typed_as", "wrong", "problem", "remedy"),
    [
        (
            "widest_in",
            "wisest_in",
            "[[printer]] no. 1 [[printer.feeds]] no. 1",
            "widest",
        ),
        ("left_mm = 3", "lefft_mm = 3", "[printer.feeds.margins] lefft_mm", "left_mm?"),
        ("black_ink =", "black_inks =", "[[paper.on_printer]] no. 1", "black_ink?"),
        ("trailing_mm = 14,", "", "trailing_mm is missing", "Add trailing_mm"),
        ("'matte'", "'mat'", 'surface is the text "mat"', 'Did you mean "matte"?'),
        ("[[paper]]\nsurf", "[[papers]]\nsurf", "papers: there", "Did you mean paper?"),
        ("= 310.0", '= "310 gsm"', 'weight_gsm is the text "310 gsm"', "a number"),
        ("= 310.0", "= 3.1", "weight_gsm is 3.1 g/m²", "20 to 1500 g/m²"),
        ("narrowest_mm = 89", "narrowest_mm = 689", "no. 1 The feed", "Exchange"),
        ("_version = 1", "_version = 2", "format_version is 2", "newer printplan"),
        ("paper book", "plan", "the format is", '"printplan paper book"'),
        ('"Tarn Gloss"', '"fen cotton 310"', "twice", "Remove one"),
        ('"Tarn Gloss"', '""', "[[paper]] no. 2 A paper has no name", "Write its name"),
        ('printer = "Studio 24"', 'printer = "Studo 24"', "Studo", '"Studio 24"?'),
        ('_ink = "matte', '_ink = "mate', "mate black", 'mean "matte black"?'),
        ('feeds = ["sheet slot"]', 'feeds = ["roll"]', "roll", '"sheet slot"'),
        ("profiles/../profiles/fen.icc", " ", "has no profile", "Write its profile"),
    ],
)
def test_mistake_in_a_typed_book_is_named(typed, typed_as, wrong, problem, remedy):
    assert TYPED.count(typed_as) == 1 or typed_as in {"_version = 1", "paper book"}
    typed.write_text(TYPED.replace(typed_as, wrong, 1))
    if typed_as == "paper book":
        typed.write_text(TYPED.replace("printplan paper book", "printplan plan"))
    with pytest.raises(PrintPlanError) as caught:
        read_paper_book(typed)
    assert caught.value.problem.startswith(str(typed))
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


def test_margin_out_of_range_keeps_its_own_remedy(typed):
    typed.write_text(TYPED.replace("trailing_mm = 14", "trailing_mm = 1400"))
    with pytest.raises(SpecError, match=r"margins\] .*1400 mm\. Give the margin"):
        read_paper_book(typed)


@pytest.mark.parametrize(
    ("make", "remedy"),
    [
        (lambda: book(paper("A"), paper("a")), "Remove one"),
        (lambda: PaperBook(printers=(printer(), printer()), papers=()), "Remove one"),
        (lambda: book(paper("A", pair(printer="Studio 71"))), 'mean "Studio 17"'),
        (lambda: book(paper("A", pair(black_ink="photoblack"))), 'mean "photo black"'),
        (lambda: book(paper("A", pair(feeds=("roll", "rol")))), 'mean "roll"'),
        (lambda: book(paper("A", stock=(Stock(sheet="A33"),))), "Name an ISO 216 size"),
        (
            lambda: book(
                paper("A", stock=(Stock(sheet="A4"), Stock(sheet="21x29.7 cm")))
            ),
            "add its sheets to the other",
        ),
        (lambda: replace(book(), currency="euro"), '"EUR"'),
    ],
)
def test_book_that_contradicts_itself_cannot_be_made(make, remedy):
    with pytest.raises(RecordError, match=remedy):
        make()


def test_unknown_name_offers_the_nearest():
    found = book(paper("Fen Cotton 310"), paper("Tarn Gloss"))
    assert found.paper("Tarn Gloss").name == "Tarn Gloss"
    with pytest.raises(RecordError, match='Did you mean "Fen Cotton 310"'):
        found.paper("Fen Coton 310")
    with pytest.raises(RecordError, match='Known here: "Studio 24", "Studio 17"'):
        found.printer("x")


def test_book_is_never_replaced_unasked(tmp_path):
    path = tmp_path / "papers.toml"
    write_paper_book(book(paper("A")), path)
    with pytest.raises(RecordError, match=r"another name\. In Python: overwrite=True"):
        write_paper_book(book(paper("B")), path)
    write_paper_book(book(paper("B")), path, overwrite=True)
    assert read_paper_book(path) == book(paper("B"))


def change(path, name, **changes):
    old = read_paper_book(path).paper(name)
    update_paper(path, replace(old, **changes))


def test_update_touches_only_what_changes(typed):
    change(typed, "Fen Cotton 310", psf_sigma_um=47.5, thickness_um=565.0)
    assert typed.read_text() == TYPED.replace(
        "psf_sigma_um = 50           # from", "psf_sigma_um = 47.5           # from"
    ).replace("thickness_um = 5.6e2", "thickness_um = 565")


def test_update_that_changes_nothing_writes_nothing(typed):
    before = typed.stat().st_mtime_ns
    change(typed, "Fen Cotton 310")
    assert typed.read_text() == TYPED
    assert typed.stat().st_mtime_ns == before


def test_update_keeps_comments_and_typed_paths_of_pairs(typed):
    old = read_paper_book(typed).paper("Fen Cotton 310")
    changed = replace(old.on_printer[0], media_type="Thin", profile_sha256=HASH)
    change(typed, "Fen Cotton 310", on_printer=(changed,))
    expected = TYPED.replace('"Cotton, thick"', '"Thin"').splitlines()
    found = typed.read_text().splitlines()
    added = [line for line in found if line not in expected]
    assert [line.split(" #")[0] for line in added] == [f'profile_sha256 = "{HASH}"']
    assert [line for line in found if line not in added] == expected
    # The heading of the next paper stays above it.
    assert found[-10:] == TYPED.splitlines()[-10:]


def test_update_keeps_a_whole_path_that_somebody_typed(typed):
    whole = (typed.parent / "profiles" / "fen.icc").as_posix()
    typed.write_text(TYPED.replace("profiles/../profiles/fen.icc", whole))
    old = read_paper_book(typed).paper("Fen Cotton 310")
    changed = replace(old.on_printer[0], media_type="Thin")
    change(typed, "Fen Cotton 310", on_printer=(changed,))
    assert f'profile = "{whole}"' in typed.read_text()


def test_update_sets_up_a_paper_for_its_first_printer(typed):
    profile = str(typed.parent / "profiles" / "tarn.icc")
    change(typed, "Tarn Gloss", on_printer=(pair(profile=profile),), note="new")
    text = typed.read_text()
    assert text.startswith(TYPED[: TYPED.index("on_printer = []")])
    assert "# the end" in text
    assert 'profile = "profiles/tarn.icc"' in text
    tarn = read_paper_book(typed).paper("Tarn Gloss")
    assert (tarn.on_printer[0].profile, tarn.note) == (profile, "new")


def test_update_takes_a_pair_away_and_keeps_the_other_ones_comment(tmp_path):
    path = tmp_path / "papers.toml"
    write_paper_book(
        book(paper("Fen", pair(printer="Studio 17"), pair()), paper("Tarn")), path
    )
    marked = path.read_text().replace('"Studio 24"\npro', '"Studio 24" # mine\npro')
    path.write_text(marked)
    change(path, "Fen", on_printer=(pair(media_type="Thin"),))
    assert read_paper_book(path).paper("Fen").on_printer == (pair(media_type="Thin"),)
    assert 'printer = "Studio 24" # mine' in path.read_text()
    change(path, "Fen", on_printer=())
    assert read_paper_book(path) == book(paper("Fen"), paper("Tarn"))


pairs = st.lists(
    st.builds(
        pair,
        printer=st.sampled_from(["Studio 24", "Studio 17"]),
        profile=st.sampled_from(["/a.icc", "/b.icc"]),
        media_type=st.text(),
        feeds=st.lists(
            st.sampled_from(["roll", "sheet slot"]), min_size=1, unique=True
        ).map(tuple),
        spread_readings=st.lists(
            st.builds(
                replace,
                st.just(READING),
                on=st.dates(date(2026, 5, 1), date(2026, 5, 3)),
                sigma_um=st.sampled_from([47.0, 48.0]),
            ),
            max_size=3,
            unique=True,
        ).map(tuple),
        restore_picks=st.lists(
            st.builds(
                replace,
                st.just(PICK),
                distance_mm=st.none() | st.sampled_from([300.0, 400.0]),
                note=st.text(max_size=3),
            ),
            max_size=3,
            unique=True,
        ).map(tuple),
    ),
    max_size=2,
    unique_by=lambda each: each.printer,
).map(tuple)
some_papers = st.builds(
    paper,
    name=st.just("Fen"),
    on_printer=pairs,
    note=st.text(),
    weight_gsm=st.floats(20, 1500),
    surface=st.sampled_from(Surface),
    stock=st.lists(
        st.sampled_from(
            [*STOCK, replace(STOCK[0], sheets_left=3), Stock(sheet="8x10 in")]
        ),
        unique_by=lambda each: each.words,
    ).map(tuple),
    white_lab=st.none() | st.just((96.0, -0.5, 2.0)),
    drying_h=st.none() | st.just(12.0),
)


@pytest.mark.slow
@settings(max_examples=40)
@given(some_papers, some_papers, st.booleans())
def test_update_makes_any_paper_any_other(tmp_path_factory, old, new, windows_ends):
    path = tmp_path_factory.mktemp("book") / "papers.toml"
    others = (paper("First", pair()), paper("Last", pair(), note="last"))
    write_paper_book(book(others[0], old, others[1]), path)
    if windows_ends:
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    update_paper(path, new)
    assert read_paper_book(path) == book(others[0], new, others[1])
    data = path.read_bytes()
    assert data.count(b"\r\n") == (data.count(b"\n") if windows_ends else 0)


def test_change_begins_with_what_the_book_holds_now(typed):
    """What another writer changed meanwhile stays, though this one knew nothing."""
    known = read_paper_book(typed).paper("Fen Cotton 310")
    change(typed, "Fen Cotton 310", psf_sigma_um=47.0)
    seen = []

    def thicker(now):
        seen.append(now)
        return replace(now, thickness_um=570.0)

    changed = change_paper(typed, "Fen Cotton 310", thicker)
    assert seen == [replace(known, psf_sigma_um=47.0)]
    assert changed == replace(known, psf_sigma_um=47.0, thickness_um=570.0)
    assert read_paper_book(typed).paper("Fen Cotton 310") == changed


def test_renamed_paper_is_found_by_both_names_and_all_else_stays_typed(typed):
    made = change_paper(typed, "Tarn Gloss", lambda now: replace(now, name="Tarn"))
    assert made.former_names == ("Tarn Gloss",)
    text = typed.read_text()
    assert TYPED.replace('"Tarn Gloss"', '"Tarn"') == "".join(
        line for line in text.splitlines(keepends=True) if "former_names" not in line
    )
    book = read_paper_book(typed)
    assert book.paper("Tarn Gloss") == book.paper("Tarn") == made
    again = change_paper(typed, "Tarn", lambda now: replace(now, name="Tarn Gloss"))
    assert (again.name, again.former_names) == ("Tarn Gloss", ("Tarn",))


def test_renamed_printer_takes_its_papers_with_it(typed):
    pairs = sum(len(it.on_printer) for it in read_paper_book(typed).papers)
    made = change_printer(
        typed, "Studio 24", lambda now: replace(now, name="By the window")
    )
    assert made.name == "By the window"
    book = read_paper_book(typed)
    assert book.printer("Studio 24") == made
    assert [it.printer for paper in book.papers for it in paper.on_printer] == [
        "By the window"
    ] * pairs
    for comment in re.findall("#.*", TYPED):
        assert comment in typed.read_text()


def test_paper_cannot_take_the_name_of_another(typed):
    names = [it.name for it in read_paper_book(typed).papers]
    with pytest.raises(RecordError, match="twice"):
        change_paper(typed, names[0], lambda now: replace(now, name=names[1]))
    assert typed.read_text() == TYPED


def test_printer_and_paper_are_added_to_an_empty_book(tmp_path):
    path = tmp_path / "papers.toml"
    write_paper_book(PaperBook(printers=(), papers=()), path)
    path.write_text(path.read_text() + "\n# Mine, from the first day on.\n")
    assert add_printer(path, printer()) == printer()
    inside = tmp_path / "profiles" / "fen.icc"
    made = paper("Fen", pair(profile=str(inside)))
    assert add_paper(path, made) == made
    assert read_paper_book(path) == PaperBook(printers=(printer(),), papers=(made,))
    text = path.read_text()
    assert "# Mine, from the first day on." in text
    assert 'profile = "profiles/fen.icc"' in text
    with pytest.raises(RecordError, match='has papers "Fen" twice'):
        add_paper(path, made)
    assert path.read_text() == text


def test_paper_is_added_to_a_typed_book_below_what_was_typed(typed):
    add_paper(typed, paper("Sedge", pair()))
    text = typed.read_text()
    assert text.startswith(TYPED.rstrip())
    assert read_paper_book(typed).papers[-1].name == "Sedge"


def test_one_paper_has_several_setups_on_a_printer():
    two = paper(
        "Fen", pair(setup="quick"), pair(setup="best", profile="/profiles/best.icc")
    )
    assert two.on(printer()).setup == "quick"
    assert two.on(printer(), "best").profile == "/profiles/best.icc"
    with pytest.raises(SpecError, match='Did you mean "best"'):
        two.on(printer(), "bets")
    with pytest.raises(SpecError, match="twice"):
        paper("Fen", pair(setup="best"), pair(setup="best"))


def test_setup_out_of_use_is_not_the_first_choice_and_still_there():
    two = paper("Fen", pair(setup="old", in_use=False), pair(setup="new"))
    assert two.on(printer()).setup == "new"
    assert two.on(printer(), "old").setup == "old"
    resting = paper("Fen", pair(setup="old", in_use=False))
    assert resting.on(printer()).setup == "old"


def test_change_that_fails_changes_nothing_and_leaves_no_lock(typed):
    with pytest.raises(SpecError, match="Give the estimated spread"):
        change_paper(typed, "Tarn Gloss", lambda now: replace(now, psf_sigma_um=-1.0))
    assert typed.read_text() == TYPED
    assert [it.name for it in typed.parent.iterdir()] == ["papers.toml"]


@pytest.mark.parametrize(
    ("name", "changes", "remedy"),
    [
        ("Fen Coton 310", {}, 'Did you mean "Fen Cotton 310"?'),
        ("Tarn Gloss", {"on_printer": (pair(black_ink="x"),)}, 'Known here: "matte'),
    ],
)
def test_update_that_makes_no_sense_changes_nothing(typed, name, changes, remedy):
    with pytest.raises(RecordError, match=remedy):
        update_paper(typed, paper(name, **changes))
    assert typed.read_text() == TYPED
    assert [it.name for it in typed.parent.iterdir()] == ["papers.toml"]


def test_book_whose_lists_alternate_is_read_but_not_rearranged(typed):
    """A change in place would move the tables, so it is refused with a remedy."""
    first = TYPED.index("# ---- matte")
    second = TYPED.index("# ---- glossy")
    printers = TYPED[TYPED.index("[[printer]]") : first]
    alternating = (
        TYPED[:second] + printers.replace('"Studio 24"', '"Studio 17"') + TYPED[second:]
    )
    typed.write_text(alternating)
    assert len(read_paper_book(typed).printers) == 2
    with pytest.raises(RecordError, match=r"one below the other"):
        change(typed, "Tarn Gloss", note="x")
    assert typed.read_text() == alternating


def test_what_an_editor_saves_meanwhile_is_kept(typed, monkeypatch):
    """Someone saves the book between our reading and our writing."""
    write = atomic_write.write_text
    saved = []

    def write_late(text, path, kind, **options):
        if not saved:
            saved.append(typed.write_text(TYPED + "# saved meanwhile\n"))
        return write(text, path, kind, **options)

    monkeypatch.setattr(atomic_write, "write_text", write_late)
    change(typed, "Tarn Gloss", note="x")
    assert "# saved meanwhile" in typed.read_text()
    assert read_paper_book(typed).paper("Tarn Gloss").note == "x"


@pytest.mark.slow
def test_book_that_never_rests_is_given_up(typed, monkeypatch):
    monkeypatch.setattr(atomic_write, "write_text", lambda *_, **__: False)
    with pytest.raises(RecordError, match="Close the other programs"):
        change(typed, "Tarn Gloss", note="x")


def test_lock_of_another_writer_is_waited_for(typed, monkeypatch):
    monkeypatch.setattr(lock_file, "PATIENCE_S", 0.05)
    lock = typed.with_name(".papers.toml.lock")
    lock.touch()
    with pytest.raises(RecordError, match="Delete the lock if nothing else"):
        change(typed, "Tarn Gloss", note="x")
    assert typed.read_text() == TYPED
    assert lock.exists()


def test_lock_that_was_left_behind_is_taken_away(typed, monkeypatch):
    monkeypatch.setattr(lock_file, "STALE_S", 0.05)
    typed.with_name(".papers.toml.lock").touch()
    change(typed, "Tarn Gloss", note="x")
    assert read_paper_book(typed).paper("Tarn Gloss").note == "x"
    assert [it.name for it in typed.parent.iterdir()] == ["papers.toml"]


def test_writer_that_lost_its_lock_starts_again(typed, monkeypatch):
    """A machine that slept in the middle finds its lock taken by another."""
    write = atomic_write.write_text
    lock = typed.with_name(".papers.toml.lock")
    turns = []

    def write_late(text, path, kind, **options):
        turns.append(lock.exists())
        if len(turns) == 1:
            lock.unlink()
        return write(text, path, kind, **options)

    monkeypatch.setattr(atomic_write, "write_text", write_late)
    change(typed, "Tarn Gloss", note="x")
    assert turns == [True, True]
    assert read_paper_book(typed).paper("Tarn Gloss").note == "x"
    assert not lock.exists()


WRITER = """
import sys
from dataclasses import replace
from pathlib import Path
from time import sleep
from printplan.record import book_changes, lock_file, paper_book as papers

path, name, go, stale_s = sys.argv[1:]
lock_file.STALE_S = float(stale_s)
Path(go, name).touch()
while len(list(Path(go).iterdir())) < 2:
    sleep(0.001)
for turn in range(1, 21):
    before = papers.read_paper_book(path).paper(name)
    assert before.note == (str(turn - 1) if turn > 1 else ""), (before.note, turn)
    book_changes.update_paper(path, replace(before, note=str(turn)))
"""


@pytest.mark.slow
@pytest.mark.parametrize("left_behind", [False, True])
def test_two_writers_lose_nothing(tmp_path, left_behind):
    """Each finds its own last change before every next one, and all at the end."""
    studio, go = tmp_path / "studio", tmp_path / "go"
    studio.mkdir()
    go.mkdir()
    path = studio / "papers.toml"
    write_paper_book(book(paper("Fen", pair()), paper("Tarn", pair())), path)
    stale_s = lock_file.STALE_S
    if left_behind:
        stale_s = 0.3
        path.with_name(".papers.toml.lock").touch()
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), name, str(go), str(stale_s)]
        )
        for name in ("Fen", "Tarn")
    ]
    assert [writer.wait(timeout=60) for writer in writers] == [0, 0]
    found = read_paper_book(path)
    assert [it.note for it in found.papers] == ["20", "20"]
    assert [it.name for it in studio.iterdir()] == ["papers.toml"]


def test_former_name_is_read_and_written_as_today(typed):
    """A book that calls the spread as it was called once keeps what was typed."""
    old = TYPED.replace("psf_sigma_um = 28", "spread_um = 28 # my guess")
    assert old != TYPED
    typed.write_text(old)
    fen = read_paper_book(typed).paper("Tarn Gloss")
    assert fen.psf_sigma_um == 28
    change_paper(typed, fen.name, lambda it: replace(it, psf_sigma_um=31))
    assert "psf_sigma_um = 31 # my guess" in typed.read_text()
    assert "\nspread_um" not in typed.read_text()
    typed.write_text(old.replace("spread_um", "psf_sigma_um = 28\nspread_um"))
    with pytest.raises(RecordError, match="Keep one of the two"):
        read_paper_book(typed)


def test_typed_stock_in_inches_is_read(typed):
    typed.write_text(TYPED + "\n[[paper.stock]]\nroll_width_in = 24\nleft_m = 3\n")
    (roll,) = read_paper_book(typed).paper("Tarn Gloss").stock
    # By the international inch of exactly 25.4 mm.
    assert roll.roll_width_mm == pytest.approx(609.6, abs=1e-9)
