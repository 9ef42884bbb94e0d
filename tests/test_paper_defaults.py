"""What was chosen for a paper comes back with it, whoever else wrote meanwhile."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printplan.errors import RecordError, SpecError
from printplan.record import paper_defaults as kept_module
from printplan.record.paper_defaults import (
    DefaultDelivery,
    DefaultSheet,
    PaperDefaults,
    defaults_path,
    moved_to,
    paper_defaults_of,
    read_paper_defaults,
    write_paper_defaults,
)
from printplan.record.plan_file import open_plan
from printplan.spec import (
    BlackPointCompensation,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Intent,
    NamedSpace,
    Placement,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

CHOICES = PaperDefaults(
    paper="Fen Cotton 310",
    printer="Studio 24",
    ppi=360.0,
    sheet=DefaultSheet(feed="front slot", placement=Placement.CENTRED, border_mm=4.0),
    sharpen=SharpenSpec(gain=0.9, radius_mm=0.2, restore=0.8, distance_mm=500.0),
    colour=ColourSpec(intent=Intent.PERCEPTUAL, lighten_l=2.5),
    delivery=DefaultDelivery(
        colour=Delivery.PRINTER_COLOUR,
        file_format=FileFormat.TIFF_8,
        extent=Extent.PICTURE,
    ),
)
OTHER = replace(CHOICES, paper="Alder Satin 260", ppi=300.0)


def of(path, choices):
    return read_paper_defaults(path, paper=choices.paper, printer=choices.printer)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "paper-book-choices.toml"


def test_nothing_is_kept_at_first(path):
    assert of(path, CHOICES) is None


def test_choices_lie_beside_their_book(tmp_path):
    assert defaults_path(tmp_path / "book.toml") == tmp_path / "book-choices.toml"


def test_what_was_kept_comes_back_until_changed(path):
    write_paper_defaults(path, CHOICES)
    write_paper_defaults(path, OTHER)
    assert of(path, CHOICES) == CHOICES
    changed = replace(CHOICES, colour=ColourSpec(intent=Intent.SATURATION))
    write_paper_defaults(path, changed)
    assert of(path, CHOICES) == changed
    assert of(path, OTHER) == OTHER


def test_one_paper_on_two_printers_has_two_sets_of_choices(path):
    second = replace(CHOICES, printer="Attic 17", ppi=720.0)
    write_paper_defaults(path, CHOICES)
    write_paper_defaults(path, second)
    assert of(path, CHOICES) == CHOICES
    assert of(path, second) == second


def test_a_persons_comments_and_other_papers_stay_as_typed(path):
    write_paper_defaults(path, CHOICES)
    write_paper_defaults(path, OTHER)
    typed = path.read_text("utf-8").replace(
        f'paper = "{OTHER.paper}"', f'paper = "{OTHER.paper}" # the thin one'
    )
    path.write_text(typed, "utf-8")
    write_paper_defaults(path, replace(CHOICES, ppi=300.0))
    assert path.read_text("utf-8") == typed.replace("ppi = 360", "ppi = 300")


def test_line_ends_stay_as_they_were(path):
    write_paper_defaults(path, CHOICES)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    write_paper_defaults(path, OTHER)
    data = path.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n")
    assert of(path, OTHER) == OTHER


@pytest.mark.parametrize(
    ("damage", "kind", "problem"),
    [
        (lambda text: text + "\nppi = = 3\n", RecordError, "not TOML"),
        (lambda text: text.replace("kept choices", "plan"), RecordError, "the format"),
        (lambda text: text.replace("ppi = 360", 'ppi = "x"'), RecordError, "ppi is"),
        (lambda text: text.replace("ppi = 360", "ppi = 9"), SpecError, "is 9 ppi"),
        (lambda text: text.replace("tiff-8", "jpeg"), SpecError, "JPEG"),
        (lambda text: text + text[text.index("\n[[") :], RecordError, "kept twice"),
    ],
    ids=["torn", "other-kind", "no-number", "out-of-range", "contradiction", "twice"],
)
def test_a_damaged_file_is_reported_and_stays_as_it_is(path, damage, kind, problem):
    write_paper_defaults(path, CHOICES)
    path.write_text(damage(path.read_text("utf-8")), "utf-8")
    before = path.read_bytes()
    with pytest.raises(kind, match=problem) as caught:
        of(path, CHOICES)
    assert path.name in caught.value.problem
    assert caught.value.remedy
    with pytest.raises(kind, match=problem):
        write_paper_defaults(path, OTHER)
    assert path.read_bytes() == before
    assert [it.name for it in path.parent.iterdir()] == [path.name]


def test_a_list_that_was_typed_in_brackets_loses_nothing(path):
    write_paper_defaults(path, CHOICES)
    text = path.read_text("utf-8")
    typed = 'kept = [{paper = "P", printer = "Q", ppi = 300, sheet = {feed = "f", '
    typed += 'placement = "centred"}, sharpen = {}, colour = {}, delivery = {colour = '
    typed += '"printer-colour", file_format = "tiff-16", extent = "sheet"}}]\n'
    path.write_text(text[: text.index("\n[[kept]]") + 1] + typed, "utf-8")
    before = read_paper_defaults(path, paper="P", printer="Q")
    write_paper_defaults(path, CHOICES)
    assert before.ppi == 300.0
    assert read_paper_defaults(path, paper="P", printer="Q") == before
    assert of(path, CHOICES) == CHOICES


@pytest.mark.slow
def test_two_workbooks_lose_nothing_of_different_papers(path):
    """Each of two processes keeps its own papers at the same time."""
    code = (
        "import sys; from dataclasses import replace; from pathlib import Path\n"
        "sys.path.insert(0, sys.argv[1])\n"
        "from test_paper_defaults import CHOICES, write_paper_defaults\n"
        "for number in range(6):\n"
        "    name = f'{sys.argv[3]} {number}'\n"
        "    write_paper_defaults(Path(sys.argv[2]), replace(CHOICES, paper=name))\n"
    )
    here = str(Path(__file__).parent)
    writers = [
        subprocess.Popen([sys.executable, "-c", code, here, str(path), name])
        for name in ("one", "two")
    ]
    assert [writer.wait(120) for writer in writers] == [0, 0]
    for name in ("one", "two"):
        for number in range(6):
            kept = read_paper_defaults(
                path, paper=f"{name} {number}", printer="Studio 24"
            )
            assert kept == replace(CHOICES, paper=f"{name} {number}")
    assert [it.name for it in path.parent.iterdir()] == [path.name]


def test_what_an_editor_saves_meanwhile_is_not_lost(path, monkeypatch):
    """An editor knows nothing of our lock; it saves while the new text is made."""
    write_paper_defaults(path, CHOICES)
    plain, saved = kept_module._with, []

    def slow(text, choices, where):
        if not saved:
            path.write_text(f"{text}\n# seen by the client\n", "utf-8")
        saved.append(text)
        return plain(text, choices, where)

    monkeypatch.setattr(kept_module, "_with", slow)
    write_paper_defaults(path, OTHER)
    assert len(saved) == 2
    assert "# seen by the client" in path.read_text("utf-8")
    assert of(path, OTHER) == OTHER


WISHES = st.builds(
    PrintSpec,
    size=st.builds(
        SizeSpec,
        rule=st.just(SizeRule.WIDTH),
        width_mm=st.floats(20, 300),
        ppi=st.floats(30, 2400),
    ),
    sheet=st.builds(
        SheetSpec,
        media_size=st.sampled_from(["A4", "A3"]),
        feed=st.sampled_from(["front slot", "sheet feeder"]),
        placement=st.sampled_from([Placement.CENTRED, Placement.OPTICAL_CENTRE]),
        border_mm=st.floats(0, 50),
    ),
    sharpen=st.builds(
        SharpenSpec, gain=st.floats(0, 10), grain_floor_l=st.floats(0, 5)
    ),
    colour=st.builds(
        ColourSpec,
        intent=st.sampled_from(Intent),
        black_point_compensation=st.sampled_from(BlackPointCompensation),
        lighten_l=st.floats(-15, 15),
    ),
    delivery=st.builds(
        DeliverySpec,
        colour=st.just(Delivery.NAMED_SPACE),
        named_space=st.sampled_from(NamedSpace),
        file_format=st.sampled_from(FileFormat),
        copies=st.integers(1, 99),
    ),
)


@pytest.fixture(scope="module")
def any_plan(studio):
    sheet = open_plan(studio.plan_path)
    sheet.master.close()
    return sheet.plan


def test_a_feed_path_that_does_not_take_the_paper_gives_way_to_the_first(studio):
    printer = studio.book.printers[0]
    paper = next(it for it in studio.book.papers if len(it.on(printer).feeds) > 1)
    wish = PrintSpec(
        size=SizeSpec(rule=SizeRule.WIDTH, width_mm=100.0, ppi=300.0),
        sheet=SheetSpec(media_size="A4", feed="a slot of another printer"),
    )
    assert moved_to(wish, paper, printer).sheet.feed == paper.on(printer).feeds[0]


@given(wish=WISHES, other=WISHES)
def test_choices_carry_over_all_that_sticks_and_nothing_else(any_plan, wish, other):
    applied = paper_defaults_of(replace(any_plan, spec=wish)).applied_to(other)
    assert applied.colour == wish.colour
    assert applied.sharpen == wish.sharpen
    assert applied.size == replace(other.size, ppi=wish.size.ppi)
    assert applied.delivery == replace(wish.delivery, copies=other.delivery.copies)
    assert applied.sheet == replace(wish.sheet, media_size=other.sheet.media_size)
    assert (applied.mount, applied.room) == (other.mount, other.room)
