"""One state: a change touches what depends on it, and a refusal touches nothing."""

import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.errors import FitError
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.record.open_plan import open_plan
from printplan.spec import (
    ColourSpec,
    DeliverySpec,
    Extent,
    Intent,
    Placement,
    SharpenSpec,
    SizeRule,
    SizeSpec,
)
from printplan.workbook.bench import Bench, free_path, varied


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
def test_what_leaves_size_alone_keeps_the_resampled_tiles(bench, wish):
    before = bench.sheet
    before.window(before.plan.picture_in_file)
    bench.change(**wish)
    assert bench.sheet is not before
    assert bench.sheet.tiles is before.tiles


def test_moving_the_picture_keeps_the_resampled_tiles(bench):
    before = bench.sheet.tiles
    bench.change(sheet=replace(bench.spec.sheet, placement=Placement.OPTICAL_CENTRE))
    assert bench.sheet.tiles is before


def test_another_size_takes_new_tiles(bench):
    before = bench.sheet.tiles
    bench.change(size=by_width(100.0))
    assert bench.sheet.tiles is not before


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


def test_a_seat_is_taken_by_the_newest(bench):
    first, second = Notes(), Notes()
    bench.watch("size", first)
    bench.watch("size", second)
    bench.change(size=by_width(100.0))
    assert first.was_replaced
    assert first.changes == []
    assert len(second.changes) == 1


def test_who_left_is_told_nothing(bench):
    notes = Notes()
    bench.watch("notes", notes)
    bench.unwatch(notes)
    bench.unwatch(notes)
    bench.change(size=by_width(100.0))
    assert notes.changes == []


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


def test_findings_follow_the_plan(bench):
    bench.change(size=by_width(120.0, ppi=333.0))
    assert "printer resolution" in [finding.about for finding in bench.findings]
    bench.change(size=by_width(120.0, ppi=360.0))
    assert "printer resolution" not in [finding.about for finding in bench.findings]


def test_a_variation_leaves_its_sheet_alone(bench):
    before, plan = bench.sheet, bench.plan
    other = varied(bench.sheet, replace(bench.spec, sharpen=SharpenSpec(gain=3.0)))
    assert other.plan.spec.sharpen.gain == 3.0
    assert bench.sheet is before
    assert bench.plan == plan


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


def test_the_bench_makes_no_widgets():
    code = (
        "import sys, printplan.workbook.bench; "
        "sys.exit('ipywidgets' in sys.modules or 'IPython' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
