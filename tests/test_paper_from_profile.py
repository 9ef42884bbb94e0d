"""A paper comes into the book with nothing but its profile; flawed ones do not."""

import struct
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from profile_flaws import emptied, grey_output_profile, rewritten, rewritten_bytes

from printplan.colour.icc_file import (
    IccHeader,
    description_element,
    text_element,
    xyz_element,
)
from printplan.colour.profile_quality import profile_quality
from printplan.colour.spaces import named_profile
from printplan.errors import ProfileError, RecordError, SpecError
from printplan.media import DriverColour, Surface
from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book
from printplan.record.paper_from_profile import (
    add_from_profile,
    judge_profile,
    printer_for_paper,
    propose_from,
)
from printplan.record.paper_proposal import (
    PaperWish,
    _kept_name,
    _white,
    propose_paper,
)
from printplan.record.studio_folder import PROFILES_FOLDER
from printplan.spec import NamedSpace


@pytest.fixture(scope="module")
def printer(studio):
    return replace(studio.book.printers[0], media_types=("Cotton, heavy", "Gloss"))


@pytest.fixture(scope="module")
def sound(paper_profiles):
    return paper_profiles["Fen Cotton 310"]


@pytest.fixture(scope="module")
def of_sound(sound):
    return profile_quality(sound)


@pytest.fixture
def book_path(printer, tmp_path):
    folder = tmp_path / "studio"
    folder.mkdir()
    path = folder / "paper-book.toml"
    write_paper_book(PaperBook(printers=(printer,), papers=()), path)
    text = path.read_text("utf-8").replace(
        "[[printer]]", "# the one by the window\n[[printer]]", 1
    )
    path.write_text(text, "utf-8")
    return path


@pytest.fixture
def found(sound, tmp_path):
    path = tmp_path / "Fen Cotton.icc"
    path.write_bytes(sound.data)
    return path


def add(book_path, profile, **wish):
    book = read_paper_book(book_path)
    judged = judge_profile(profile, printer_for_paper(book))
    return add_from_profile(
        book_path, judged, propose_from(judged, book, PaperWish(**wish))
    )


# Into the book


def test_only_the_profile_is_needed(book_path, found, sound):
    added = add(book_path, found)
    assert added.is_new_paper
    assert added.was_copied
    assert added.profile == book_path.parent / PROFILES_FOLDER / "Fen Cotton.icc"
    assert added.profile.read_bytes() == sound.data
    text = book_path.read_text("utf-8")
    assert "# the one by the window" in text
    assert 'profile = "profiles/Fen Cotton.icc"' in text
    paper = read_paper_book(book_path).paper(added.paper.name)
    assert paper.surface is Surface.MATTE
    assert paper.weight_gsm == 310
    (setup,) = paper.on_printer
    assert setup.black_ink == "matte black"
    assert setup.feeds == ("front slot",)
    assert setup.profile_sha256 == sound.sha256
    assert "weight" not in paper.note
    assert "thickness" in paper.note


def test_what_is_given_goes_before_what_is_proposed(book_path, found):
    added = add(
        book_path,
        found,
        name="Own Satin",
        surface=Surface.SATIN,
        thickness_um=300.0,
        sheets=("a4", "13x19 in"),
        quality="Fine",
    )
    assert added.paper.name == "Own Satin"
    assert added.paper.thickness_um == 300
    # The spread follows from the surface, the feed paths from the thickness.
    assert added.paper.psf_sigma_um < 40
    assert added.setup.feeds == ("sheet feeder", "front slot")
    assert added.paper.sheets == ("A4", "13x19 in")
    assert added.setup.quality == "Fine"


def test_sizes_kept_are_sheets_by_their_trade_names_and_rolls(book_path, found):
    added = add(book_path, found, sheets=("Letter", "A3+", "24in", "44 in roll"))
    assert added.paper.sheets == ("8.5x11 in", "13x19 in")
    rolls = [it.roll_width_mm for it in added.paper.stock if it.sheet is None]
    assert rolls == pytest.approx([609.6, 1117.6])  # 25.4 mm an inch


def test_a_profile_below_the_book_stays_where_it_is(book_path, sound):
    path = book_path.parent / "kept" / "cotton.icc"
    path.parent.mkdir()
    path.write_bytes(sound.data)
    added = add(book_path, path)
    assert not added.was_copied
    assert added.profile == path
    assert 'profile = "kept/cotton.icc"' in book_path.read_text("utf-8")
    assert not (book_path.parent / PROFILES_FOLDER).exists()


def test_another_profile_of_that_name_is_not_replaced(book_path, found):
    kept = book_path.parent / PROFILES_FOLDER
    kept.mkdir()
    (kept / found.name).write_bytes(b"something else")
    added = add(book_path, found)
    assert added.profile.name == "Fen Cotton-2.icc"
    assert (kept / found.name).read_bytes() == b"something else"


def test_the_same_paper_gets_another_setup(book_path, found, paper_profiles, tmp_path):
    first = add(book_path, found, name="Cotton")
    other = tmp_path / "other.icc"
    other.write_bytes(paper_profiles["Curlew Matte 200"].data)
    second = add(book_path, other, name="cotton", quality="Finest", weight_gsm=99.0)
    assert not second.is_new_paper
    assert second.paper.name == "Cotton"
    # What the book says of the paper itself stays.
    assert second.paper.weight_gsm == first.paper.weight_gsm
    assert [it.setup for it in second.paper.on_printer] == ["", "matte black, Finest"]
    (printer,) = read_paper_book(book_path).printers
    assert second.paper.on(printer, "matte black, Finest").quality == "Finest"


def test_the_very_same_setup_is_refused(book_path, found):
    add(book_path, found)
    before = book_path.read_text("utf-8")
    with pytest.raises(RecordError, match="Give a black ink, quality or media type"):
        add(book_path, found)
    assert book_path.read_text("utf-8") == before


def test_a_refused_paper_leaves_nothing_behind(book_path, found):
    before = book_path.read_text("utf-8")
    with pytest.raises(SpecError, match="weight"):
        add(book_path, found, weight_gsm=9000.0, thickness_um=520.0)
    assert book_path.read_text("utf-8") == before
    assert not list(book_path.parent.glob(f"{PROFILES_FOLDER}/*"))


def test_a_profile_changed_meanwhile_is_refused(book_path, found, paper_profiles):
    book = read_paper_book(book_path)
    judged = judge_profile(found, printer_for_paper(book))
    found.write_bytes(paper_profiles["Curlew Matte 200"].data)
    with pytest.raises(ProfileError, match="Choose it again"):
        add_from_profile(book_path, judged, propose_from(judged, book))


# Which printer


def test_a_book_without_printers_says_so():
    empty = PaperBook(printers=(), papers=())
    with pytest.raises(RecordError, match="Add the printer first"):
        printer_for_paper(empty)


def test_of_several_printers_one_is_named(printer):
    both = PaperBook(printers=(printer, replace(printer, name="Other")), papers=())
    with pytest.raises(RecordError, match=r'"Other".*Name the printer'):
        printer_for_paper(both)
    assert printer_for_paper(both, "Other").name == "Other"
    idle = PaperBook(
        printers=(printer, replace(printer, name="Old", in_use=False)), papers=()
    )
    assert printer_for_paper(idle) is printer


@pytest.mark.parametrize("colour", list(DriverColour))
def test_profile_suits_the_driver(colour, printer, found, fogra39_path, tmp_path):
    by = replace(printer, driver_colour=colour)
    right, wrong = found, fogra39_path
    if colour is DriverColour.CMYK:
        right, wrong = wrong, right
    assert judge_profile(right, by).profile.space == colour
    with pytest.raises(ProfileError, match=f"Choose a profile for {colour}"):
        judge_profile(wrong, by)
    grey = tmp_path / "grey.icc"
    grey.write_bytes(grey_output_profile().data)
    assert judge_profile(grey, by).profile.space == "GRAY"


def test_grey_profile_becomes_a_paper(book_path, tmp_path):
    path = tmp_path / "grey.icc"
    path.write_bytes(grey_output_profile(black_y=0.02).data)
    added = add(book_path, path)
    assert added.paper.name == "Invented grey matte"
    assert added.paper.surface is Surface.MATTE
    assert added.paper.white_lab[0] == pytest.approx(95.2, abs=0.1)  # Y = 0.88


# What is proposed


def named(profile, name, **tags):
    """The profile under another name, without other texts of its own."""
    described = {"desc": description_element(name), "dmdd": b"", "dmnd": b""} | tags
    return profile_quality(rewritten(profile, **described))


@pytest.mark.parametrize(
    ("name", "surface"),
    [
        ("Heath Gloss 270", Surface.GLOSS),
        ("HEATH_GLOSSY_270", Surface.GLOSS),
        ("Heath Semi-Gloss", Surface.SATIN),
        ("Heath Semigloss", Surface.SATIN),
        ("Press Coated", Surface.GLOSS),
        ("Press Uncoated", Surface.MATTE),
        ("Heath Cotton Rag", Surface.MATTE),
        ("Heath Baryta 310", Surface.BARYTA),
        ("Canvas matte", Surface.CANVAS),
        # Its black, L* 15, is a matte one; "Dragon" and "Fragile" are no rag.
        ("Dragon Fragile", Surface.MATTE),
    ],
)
def test_surface_is_read_from_the_name_or_the_black(name, surface, sound, printer):
    proposed = propose_paper(named(sound, name), printer).surface
    assert proposed.value is surface
    assert ("word" in proposed.source) == (name != "Dragon Fragile")


def test_black_against_the_name_is_told(sound, printer):
    proposed = propose_paper(named(sound, "Heath Gloss"), printer).surface
    assert "paler" in proposed.source
    assert proposed.is_guess


def test_deep_black_without_a_word_is_no_matte(paper_profiles, printer):
    deep = named(paper_profiles["Heron Baryta 315"], "Heath 315")
    proposed = propose_paper(deep, printer)
    assert proposed.surface.value is Surface.SATIN
    assert proposed.black_ink.value == "photo black"


@pytest.mark.parametrize(
    ("name", "weight_gsm"),
    [
        ("Heath 285 Matte", 285),
        ("Heath_285gsm_Matte", 285),
        ("Heath 285 g Matte", 285),
        ("Heath Matte v2 300% 1440x720", 230),
        ("Heath Matte 2026", 230),
        ("Heath Matte 39", 230),
    ],
)
def test_weight_is_the_number_in_the_name(name, weight_gsm, sound, printer):
    proposed = propose_paper(named(sound, name), printer).weight_gsm
    assert proposed.value == weight_gsm
    assert proposed.is_guess == (weight_gsm == 230)


def test_media_type_shares_words_with_the_profile(of_sound, printer):
    proposed = propose_paper(of_sound, printer).media_type
    assert proposed.value == "Cotton, heavy"
    assert proposed.is_guess


@pytest.mark.parametrize("white", [(0.9642, 1.0, 0.8249), (0.9, 0.1, 0.1)])
def test_a_white_that_no_paper_has_is_not_taken(white, sound, printer):
    """The perfect diffuser's, and one that is a deep red."""
    quality = named(sound, "Heath", wtpt=xyz_element(white))
    proposed = propose_paper(quality, printer).white_lab
    assert proposed.value is None
    assert "measure" in proposed.source


def test_a_profile_without_a_name_is_called_by_its_file(sound, printer):
    nameless = named(sound, "")
    assert propose_paper(nameless, printer, file_stem="heath").name.value == "heath"


def test_no_feed_path_for_it_is_told(of_sound, printer):
    with pytest.raises(SpecError, match="Give the thickness"):
        propose_paper(of_sound, printer, PaperWish(thickness_um=4000.0))


@pytest.mark.parametrize("wish", [{"black_ink": "mate black"}, {"feeds": ("slot",)}])
def test_what_the_printer_does_not_have_is_refused(wish, of_sound, printer):
    with pytest.raises(SpecError, match=r"Did you mean|Known here"):
        propose_paper(of_sound, printer, PaperWish(**wish))


def test_every_row_has_its_source(of_sound, printer):
    rows = list(propose_paper(of_sound, printer).rows())
    assert len({row.what for row in rows}) == len(rows)
    for row in rows:
        assert row.value
        assert row.source


# Damaged or wrong ones


def _tag_beyond_the_end(data):
    (size,) = struct.unpack_from(">I", data, 128 + 4 + 8)
    return data[: 128 + 4 + 8] + struct.pack(">I", size + len(data)) + data[128 + 16 :]


def _of_class(sound, kind):
    header = IccHeader(version=(2, 4), device_class=kind, space="RGB", pcs="Lab")
    return rewritten(sound, header=header).data


def _without(sound, *tags):
    return rewritten(sound, **dict.fromkeys(tags, b"")).data


TABLES = {way: [f"{way}{it}" for it in "012"] for way in ("A2B", "B2A")}
FLAWED = {
    "display": lambda _: named_profile(NamedSpace.SRGB).data,
    "device link": lambda sound: _of_class(sound, "link"),
    "abstract": lambda sound: _of_class(sound, "abst"),
    "truncated": lambda sound: sound.data[: len(sound.data) // 2],
    "tag beyond the end": lambda sound: _tag_beyond_the_end(sound.data),
    "no profile": lambda _: b"\x89PNG\r\n\x1a\n" + bytes(400),
    "empty file": lambda _: b"",
    "empty tables": lambda sound: emptied(sound, *TABLES["A2B"]).data,
    "one way": lambda sound: _without(sound, *TABLES["B2A"]),
    "no tables": lambda sound: _without(sound, *TABLES["A2B"], *TABLES["B2A"]),
    "text for a table": lambda sound: rewritten_bytes(
        sound.data, B2A1=text_element("none" * 9)
    ),
}


@pytest.mark.parametrize("kind", FLAWED)
def test_damaged_and_wrong_profiles_are_refused(kind, sound, book_path, tmp_path):
    path = tmp_path / "flawed.icc"
    path.write_bytes(FLAWED[kind](sound))
    before = book_path.read_text("utf-8")
    with pytest.raises(ProfileError) as caught:
        add(book_path, path)
    assert caught.value.problem
    remedies = ("profile", "Fetch", "Copy", "Choose", "Use")
    assert any(word in caught.value.remedy for word in remedies)
    assert book_path.read_text("utf-8") == before
    assert not Path(book_path.parent / PROFILES_FOLDER).exists()


def test_a_missing_file_is_told(book_path, tmp_path):
    with pytest.raises(ProfileError, match="Check the path"):
        add(book_path, tmp_path / "nowhere.icc")


def test_a_white_of_exactly_100_is_not_taken_for_measured():
    """A profile whose white is the medium's own says nothing of the paper."""
    quality = SimpleNamespace(facts=SimpleNamespace(white_lab=(100.0, 0.0, 0.0)))
    assert _white(quality).value is None
    quality.facts.white_lab = (95.0, 0.0, -3.0)
    assert _white(quality).value == (95.0, 0.0, -3.0)


def test_a_roll_is_named_in_inches_only_if_it_is_even_in_them():
    assert _kept_name("609.6 mm roll") == "24 in roll"
    assert _kept_name("609.6254 mm roll").endswith("mm roll")  # 24.001 in
