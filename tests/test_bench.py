"""One state: a change touches what depends on it, and a refusal touches nothing."""

import hashlib
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan import workbook
from printplan.colour.spaces import named_profile
from printplan.errors import (
    FitError,
    MasterError,
    ProfileError,
    RecordError,
    SpecError,
)
from printplan.free_name import free_path
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.record import paper_book
from printplan.record.book_changes import change_paper, change_printer
from printplan.record.paper_book import read_paper_book
from printplan.record.paper_defaults import defaults_path, read_paper_defaults
from printplan.record.plan_file import open_plan
from printplan.sizing.boxes import Box
from printplan.spec import (
    ColourSpec,
    DeliverySpec,
    Extent,
    Intent,
    NamedSpace,
    Placement,
    SharpenSpec,
    SizeRule,
    SizeSpec,
)
from printplan.workbook.bench import Bench, varied


class Notes:
    """A watcher that writes down what it is told."""

    def __init__(self):
        self.changes = []
        self.was_replaced = False

    def plan_changed(self, change):
        self.changes.append(change)

    def replaced(self):
        self.was_replaced = True


def by_width(width_mm, ppi=300.0):
    return SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=ppi)


@pytest.fixture
def bench(master_of, textured, plan_for, tmp_path):
    master = master_of(textured)
    sheet = build_sheet(master, plan_for(master, gain=0.5))
    return Bench(sheet, folder=tmp_path, stem="print")


@pytest.mark.parametrize(
    "wish",
    [
        {"colour": ColourSpec(intent=Intent.PERCEPTUAL)},
        {"sharpen": SharpenSpec(gain=2.0)},
        {"delivery": DeliverySpec(extent=Extent.PICTURE)},
    ],
    ids=lambda wish: next(iter(wish)),
)
def test_what_leaves_size_alone_keeps_the_resampled_light(bench, wish):
    before = bench.sheet
    before.window(before.plan.picture_in_file)
    bench.change(**wish)
    assert bench.sheet is not before
    assert bench.sheet.light is before.light


def test_moving_the_picture_keeps_the_resampled_light(bench):
    before = bench.sheet.light
    bench.change(sheet=replace(bench.spec.sheet, placement=Placement.OPTICAL_CENTRE))
    assert bench.sheet.light is before


def test_another_size_takes_new_light(bench):
    before = bench.sheet.light
    bench.change(size=by_width(100.0))
    assert bench.sheet.light is not before


def test_watchers_are_told_which_parts_changed(bench):
    notes = Notes()
    bench.watch("notes", notes)
    bench.change(size=by_width(100.0), colour=ColourSpec(intent=Intent.PERCEPTUAL))
    assert [change.parts for change in notes.changes] == [{"size", "colour"}]
    assert bench.plan.picture_size.width_mm == 100.0


def test_the_same_wish_again_tells_nobody(bench):
    notes = Notes()
    bench.watch("notes", notes)
    before = bench.sheet
    bench.change(size=bench.spec.size)
    assert notes.changes == []
    assert bench.sheet is before


def test_a_wish_that_cannot_be_followed_leaves_the_bench_as_it_was(bench):
    notes = Notes()
    bench.watch("notes", notes)
    before = bench.sheet
    with pytest.raises(FitError, match="takes") as caught:
        bench.change(size=by_width(1000.0))
    assert caught.value.remedy.startswith("Choose a picture of at most")
    assert bench.sheet is before
    assert notes.changes == []


def test_a_refusal_is_told_and_forgotten_with_the_next_plan(bench):
    notes = Notes()
    bench.watch("notes", notes)
    refusal = FitError("Too wide.", remedy="Choose less.")
    bench.refuse(refusal)
    assert bench.refusal is refusal
    assert notes.changes[-1].refusal is refusal
    bench.change(size=bench.spec.size)
    assert bench.refusal is None
    assert notes.changes[-1].refusal is None


def test_a_newer_watcher_replaces_the_one_in_its_slot(bench):
    first, second = Notes(), Notes()
    bench.watch("size", first)
    bench.watch("size", second)
    bench.change(size=by_width(100.0))
    assert first.was_replaced
    assert first.changes == []
    assert len(second.changes) == 1


def test_a_bench_of_a_plan_file_holds_that_plan(studio):
    sheet = open_plan(studio.plan_path)
    with sheet.master, Bench.open(studio.plan_path) as bench:
        assert bench.plan == sheet.plan
        assert bench.folder == studio.plan_path.absolute().parent
        assert bench.stem == studio.plan_path.stem


def test_a_bench_of_an_open_master_holds_what_was_asked(
    master_of, textured, plan_for, tmp_path
):
    master = master_of(textured)
    plan = plan_for(master)
    bench = Bench.of(master, plan.paper, plan.printer, plan.spec, folder=tmp_path)
    assert bench.plan == plan
    assert (bench.master, bench.paper, bench.printer, bench.spec) == (
        master,
        plan.paper,
        plan.printer,
        plan.spec,
    )


@pytest.mark.slow
def test_findings_follow_the_plan(bench):
    bench.change(size=by_width(120.0, ppi=333.0))
    assert "printer resolution" in [finding.topic for finding in bench.findings]
    bench.change(size=by_width(120.0, ppi=360.0))
    assert "printer resolution" not in [finding.topic for finding in bench.findings]


def test_a_variation_leaves_its_sheet_alone(bench):
    before, plan = bench.sheet, bench.plan
    other = varied(bench.sheet, replace(bench.spec, sharpen=SharpenSpec(gain=3.0)))
    assert other.plan.spec.sharpen.gain == 3.0
    assert bench.sheet is before
    assert bench.plan == plan


@pytest.mark.slow
@given(
    widths_mm=st.lists(st.floats(20.0, 600.0, allow_nan=False), min_size=1, max_size=5)
)
@settings(max_examples=15, deadline=None)
def test_the_bench_always_holds_the_last_wish_that_could_be_followed(studio, widths_mm):
    with open_master(studio.scenario.chart) as master:
        paper, printer = studio.book.papers[0], studio.book.printers[0]
        wish = open_plan(studio.plan_path)
        wish.master.close()
        spec = replace(
            wish.plan.spec,
            sheet=replace(wish.plan.spec.sheet, feed="sheet feeder"),
            size=by_width(100.0),
        )
        bench = Bench.of(master, paper, printer, spec)
        followed = spec
        for width_mm in widths_mm:
            asked = replace(spec, size=by_width(width_mm))
            try:
                resolve(master.facts, paper, printer, asked)
            except FitError:
                with pytest.raises(FitError):
                    bench.ask(asked)
            else:
                bench.ask(asked)
                followed = asked
        assert bench.plan == resolve(master.facts, paper, printer, followed)
        assert bench.sheet.plan is bench.plan


def test_free_path_counts_on_past_what_is_there(tmp_path):
    wanted = tmp_path / "print.tif"
    assert free_path(wanted) == wanted
    wanted.touch()
    assert free_path(wanted) == tmp_path / "print-2.tif"
    (tmp_path / "print-2.tif").symlink_to(tmp_path / "nowhere")
    assert free_path(wanted) == tmp_path / "print-3.tif"


@pytest.mark.slow
def test_the_bench_makes_no_widgets():
    code = (
        "import sys, printplan.workbook.bench; "
        "sys.exit('ipywidgets' in sys.modules or 'IPython' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# Another master, another paper


@pytest.fixture
def opened(job):
    with Bench.open(job) as bench:
        yield bench


def kept_of(job, paper):
    path = defaults_path(job.parent.parent / "book.toml")
    return read_paper_defaults(path, paper=paper, printer="Studio 24")


def test_another_master_is_laid_out_and_the_one_before_closed(
    bench, textured, master_of
):
    notes = Notes()
    bench.watch("notes", notes)
    before, spec = bench.master, bench.spec
    other = master_of(textured[:, ::-1]).facts
    bench.change_master(other.path)
    assert bench.master.facts.sha256 == other.sha256
    assert bench.spec == spec
    assert notes.changes[-1].parts == {"master"}
    with pytest.raises(MasterError, match="was closed"):
        before.linear(Box(0, 0, 1, 1))


@pytest.mark.parametrize("name", ["missing.tif", "untagged.tif", "tall.tif"])
def test_a_master_that_is_refused_leaves_the_bench_as_it_was(bench, tmp_path, name):
    """One is not there, one has no profile, one is too tall for the sheet."""
    tifffile.imwrite(tmp_path / "untagged.tif", np.zeros((9, 9, 3), np.uint16))
    tifffile.imwrite(
        tmp_path / "tall.tif",
        np.zeros((900, 90, 3), np.uint16),
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.SRGB).data,
    )
    before, spec = bench.sheet, bench.master_spec
    with pytest.raises((MasterError, ProfileError, FitError)) as caught:
        bench.change_master(tmp_path / name)
    assert caught.value.remedy
    assert bench.sheet is before
    assert bench.master_spec == spec
    bench.master.linear(Box(0, 0, 1, 1))


def test_an_untagged_master_is_read_as_the_user_says(bench, tmp_path):
    path = tmp_path / "untagged.tif"
    tifffile.imwrite(path, np.zeros((60, 90, 3), np.uint16), photometric="rgb")
    bench.change_master(path, assume_profile="sRGB")
    assert bench.master.facts.profile_is_assumed
    assert bench.master_spec.assume_profile == "sRGB"


def test_a_held_master_is_closed_when_it_is_released(bench, textured, master_of):
    sheet = bench.sheet
    with bench.keep_master_open():
        with bench.keep_master_open():
            bench.change_master(master_of(textured[:, ::-1]).facts.path)
            sheet.master.linear(Box(0, 0, 1, 1))
        sheet.master.linear(Box(0, 0, 1, 1))
    with pytest.raises(MasterError, match="was closed"):
        sheet.master.linear(Box(0, 0, 1, 1))


def test_choices_stick_to_their_paper_until_changed(opened, job):
    opened.change(colour=ColourSpec(intent=Intent.PERCEPTUAL, lighten_l=3.0))
    opened.change(size=replace(opened.spec.size, width_mm=200.0))
    opened.change_paper("Heron Baryta 315")
    assert opened.spec.colour.intent is Intent.PERCEPTUAL
    opened.change(colour=ColourSpec(intent=Intent.MEDIA_RELATIVE))
    opened.change(sharpen=SharpenSpec(gain=1.5))
    opened.change_paper("Fen Cotton 310")
    assert opened.spec.colour == ColourSpec(intent=Intent.PERCEPTUAL, lighten_l=3.0)
    assert opened.spec.size.width_mm == 200.0
    opened.change_paper("Heron Baryta 315")
    assert opened.spec.colour == ColourSpec(intent=Intent.MEDIA_RELATIVE)
    assert opened.spec.sharpen == SharpenSpec(gain=1.5)
    assert kept_of(job, "Fen Cotton 310").colour.lighten_l == 3.0


@pytest.mark.parametrize("what", ["paper", "printer"])
def test_choices_come_back_after_paper_or_printer_got_another_name(opened, what):
    opened.change(colour=ColourSpec(intent=Intent.PERCEPTUAL, lighten_l=3.0))
    opened.change_paper("Heron Baryta 315")
    opened.change(colour=ColourSpec(intent=Intent.MEDIA_RELATIVE))
    book = opened.files.book_path
    paper, printer = "Fen Cotton 310", opened.printer.name
    if what == "paper":
        change_paper(book, paper, lambda it: replace(it, name="Cotton"))
        paper = "Cotton"
    else:
        change_printer(book, printer, lambda it: replace(it, name="The tall one"))
        printer = "The tall one"
    opened.change_paper(paper, printer=printer)
    assert opened.paper.name == paper
    assert opened.spec.colour == ColourSpec(intent=Intent.PERCEPTUAL, lighten_l=3.0)


def test_choices_of_a_plan_that_was_only_opened_do_not_stick(job):
    with Bench.open(job) as bench:
        paper = bench.paper.name
    assert kept_of(job, paper) is None
    with Bench.open(job) as bench:
        bench.change(sharpen=SharpenSpec(gain=2.0))
    assert kept_of(job, paper).sharpen == SharpenSpec(gain=2.0)


def test_a_slider_that_is_moved_writes_no_file(opened, job):
    before = sorted(job.parent.parent.rglob("*"))
    for gain in (0.1, 0.2, 0.3):
        opened.change(sharpen=SharpenSpec(gain=gain))
    assert sorted(job.parent.parent.rglob("*")) == before


def test_another_paper_tells_which_parts_changed(opened):
    notes = Notes()
    opened.watch("notes", notes)
    opened.change_paper("Alder Satin 260")
    assert "paper" in notes.changes[-1].parts
    assert opened.plan.paper.name == "Alder Satin 260"
    assert opened.sheet.output.sha256 != ""


def test_a_feed_that_does_not_take_the_paper_gives_way(opened):
    """The demo's thick cotton goes through the front slot alone."""
    opened.change_paper("Alder Satin 260")
    opened.change(sheet=replace(opened.spec.sheet, feed="sheet feeder"))
    opened.change_paper("Fen Cotton 310")
    assert opened.spec.sheet.feed in opened.plan.setup.feeds


@pytest.mark.parametrize(
    ("paper", "printer", "kind", "problem"),
    [
        ("No Such Paper", None, RecordError, "has no paper"),
        ("Fen Cotton 310", "No Such Printer", RecordError, "has no printer"),
    ],
)
def test_a_paper_that_is_refused_leaves_the_bench_as_it_was(
    opened, paper, printer, kind, problem
):
    before = opened.sheet
    with pytest.raises(kind, match=problem):
        opened.change_paper(paper, printer=printer)
    assert opened.sheet is before


def test_what_is_kept_can_be_why_a_paper_is_refused(opened):
    opened.change(size=replace(opened.spec.size, width_mm=100.0))
    opened.change_paper("Heron Baryta 315")
    opened.change(sheet=replace(opened.spec.sheet, border_mm=60.0))
    opened.change_paper("Fen Cotton 310")
    opened.change(
        size=replace(opened.spec.size, width_mm=380.0),
        sheet=replace(opened.spec.sheet, border_mm=0.0),
    )
    before = opened.sheet
    with pytest.raises(
        FitError, match="Heron Baryta 315, as it was last used"
    ) as caught:
        opened.change_paper("Heron Baryta 315")
    assert caught.value.remedy
    assert opened.sheet is before


def test_damaged_choices_are_reported_and_the_bench_stays(opened, job):
    path = defaults_path(job.parent.parent / "book.toml")
    path.write_text("what is this", "utf-8")
    before = opened.sheet
    with pytest.raises(RecordError, match="not TOML"):
        opened.change_paper("Alder Satin 260")
    assert opened.sheet is before
    opened.change(sharpen=SharpenSpec(gain=2.0))
    with pytest.raises(RecordError, match="not TOML"):
        opened.close()
    with pytest.raises(MasterError, match="was closed"):
        opened.master.linear(Box(0, 0, 1, 1))
    path.unlink()


def test_the_paper_book_is_read_when_its_file_is_another(opened, monkeypatch):
    read = []

    def counted(path):
        read.append(path)
        return read_paper_book(path)

    book = opened.book
    monkeypatch.setattr(paper_book, "read_paper_book", counted)
    for gain in (0.4, 0.5, 0.6):
        opened.change(sharpen=SharpenSpec(gain=gain, radius_mm=0.1))
        assert opened.book is book
    assert len(read) == 0
    path = opened.files.book_path
    path.write_text("# a remark\n" + path.read_text("utf-8"), "utf-8")
    assert opened.book == book
    assert len(read) == 1
    text = path.read_text("utf-8")
    path.unlink()
    with pytest.raises(RecordError):
        _ = opened.book
    path.write_text(text, "utf-8")
    assert opened.book == book


def test_a_bench_without_a_plan_file_has_no_other_paper(bench):
    for wish in (lambda: bench.change_paper("Fen Cotton 310"), bench.keep):
        with pytest.raises(RecordError, match="no paper book") as caught:
            wish()
        assert "Write a plan file" in caught.value.remedy


def test_a_missing_profile_can_be_written_into_the_paper_book(opened, job, studio):
    book_path = job.parent.parent / "book.toml"
    profile = Path(studio.book.paper("Alder Satin 260").on_printer[0].profile)
    book_path.write_text(
        book_path.read_text("utf-8").replace(profile.name, f"lost-{profile.name}"),
        "utf-8",
    )
    before = opened.sheet
    with pytest.raises(ProfileError, match="lost"):
        opened.change_paper("Alder Satin 260")
    with pytest.raises((ProfileError, SpecError)):
        opened.record_profile(job, paper="Alder Satin 260")
    assert opened.sheet is before
    opened.record_profile(profile, paper="Alder Satin 260")
    assert opened.paper.name == "Alder Satin 260"
    setup = read_paper_book(book_path).paper("Alder Satin 260").on_printer[0]
    assert Path(setup.profile) == profile
    assert setup.profile_sha256 == hashlib.sha256(profile.read_bytes()).hexdigest()


# Keeping the plan


def test_a_kept_plan_goes_on_in_the_next_notebook(job):
    with Bench.open(job) as first:
        first.change(size=replace(first.spec.size, width_mm=222.0))
        first.change_paper("Heron Baryta 315")
        kept, plan = first.keep(), first.plan
    assert kept == job
    with Bench.open(job) as second:
        assert second.plan == plan
        assert second.files.wish.note == first.files.wish.note


def test_a_plan_of_another_photograph_is_kept_as_another_job(job, studio):
    written = job.read_bytes()
    with Bench.open(job) as first:
        first.change_master(studio.scenario.chart)
        kept, plan = first.keep(), first.plan
        assert first.folder == job.parent
        # From now on it is a plan like any other.
        first.change(size=replace(first.spec.size, width_mm=111.0))
        assert first.keep() == kept
        plan = first.plan
    assert kept == job.with_name(f"{studio.scenario.chart.stem}-print.toml")
    assert job.read_bytes() == written
    with Bench.open(kept) as second:
        assert second.plan == plan
        assert second.note == ""


def test_keeping_leaves_a_persons_comments(job):
    typed = job.read_text("utf-8").replace("note =", "# ask the client first\nnote =")
    job.write_text(typed, "utf-8")
    with Bench.open(job) as bench:
        bench.keep()
        assert job.read_text("utf-8") == typed
        bench.change(size=replace(bench.spec.size, width_mm=222.0))
        bench.keep()
    assert job.read_text("utf-8") == typed.replace("width_mm = 360", "width_mm = 222")


def test_a_plan_that_was_edited_meanwhile_is_not_written_over(opened, job):
    opened.change(sharpen=SharpenSpec(gain=2.0))
    edited = job.read_text("utf-8").replace("ppi = 300", "ppi = 360")
    job.write_text(edited, "utf-8")
    with pytest.raises(RecordError, match="changed by another program") as caught:
        opened.keep()
    assert "under another name" in caught.value.remedy
    assert job.read_text("utf-8") == edited
    other = opened.keep_as("mine.toml")
    assert other == job.parent / "mine.toml"
    assert opened.stem == "mine"
    opened.change(sharpen=SharpenSpec(gain=2.5))
    assert opened.keep() == other
    with Bench.open(other) as again:
        assert again.spec.sharpen.gain == 2.5
    assert job.read_text("utf-8") == edited


def test_a_plan_is_kept_under_a_free_name_only(opened, job):
    before = job.read_bytes()
    with pytest.raises(RecordError, match="exists already"):
        opened.keep_as(job.name)
    assert job.read_bytes() == before
    assert opened.files.plan_path == job


def test_all_watchers_are_told_even_if_one_fails(bench):
    class Broken(Notes):
        def plan_changed(self, change):
            raise ZeroDivisionError(change)

    notes = Notes()
    bench.watch("broken", Broken())
    bench.watch("notes", notes)
    with pytest.raises(ZeroDivisionError):
        bench.change(size=by_width(100.0))
    assert len(notes.changes) == 1


def test_a_notebook_finds_every_name_in_the_workbook():
    assert set(workbook.__all__) <= set(dir(workbook))
    for name in workbook.__all__:
        found = getattr(workbook, name)
        assert found.__name__.removeprefix("printplan.workbook.") == name
    assert set(workbook.figures.__all__) <= set(workbook.__all__)


def test_loops_that_are_not_compiled_yet_are_said_once(monkeypatch, capsys):
    def compile_loops(told):
        told(1, 2)
        told(2, 2)

    monkeypatch.setattr("printplan.workbook.bench.compile_loops", compile_loops)
    with pytest.raises(RecordError):
        Bench.open("missing.toml")
    assert capsys.readouterr().out == "Making the pixel loops for this machine …\n"
