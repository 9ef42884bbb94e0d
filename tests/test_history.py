from dataclasses import replace
from pathlib import Path

import pytest

from printplan.spec import ColourSpec, Intent
from printplan.workbook.bench import Bench
from printplan.workbook.history import History


class Clock:
    """Seconds that only the test moves."""

    def __init__(self):
        self.now = 0.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def bench(job):
    with Bench.open(job) as bench:
        yield bench


@pytest.fixture
def history(bench, clock):
    return History(bench, clock=clock)


def ask_width(bench, width_mm):
    bench.change(size=replace(bench.spec.size, width_mm=width_mm))


def test_undo_brings_back_the_very_plan_and_redo_takes_it_away(bench, history, clock):
    first = bench.plan
    ask_width(bench, 200.0)
    second = bench.plan
    clock.now += 10
    bench.change(colour=ColourSpec(intent=Intent.PERCEPTUAL))
    third = bench.plan
    history.undo()
    assert bench.plan == second
    history.undo()
    assert bench.plan == first
    assert not history.can_undo
    history.undo()
    assert bench.plan == first
    history.redo()
    history.redo()
    assert bench.plan == third
    assert not history.can_redo


def test_move_of_a_slider_is_one_step(bench, history, clock):
    first = bench.plan
    for width_mm in range(200, 230):
        clock.now += 0.05
        ask_width(bench, float(width_mm))
    history.undo()
    assert bench.plan == first


def test_moves_with_a_pause_between_are_two_steps(bench, history, clock):
    ask_width(bench, 200.0)
    between = bench.plan
    clock.now += 5
    ask_width(bench, 210.0)
    history.undo()
    assert bench.plan == between


def test_new_choice_after_undo_ends_the_way_forth(bench, history, clock):
    ask_width(bench, 200.0)
    history.undo()
    assert history.can_redo
    clock.now += 5
    ask_width(bench, 220.0)
    assert not history.can_redo


def test_refused_wish_is_no_step(bench, history):
    with pytest.raises(ValueError, match="sheet"):
        ask_width(bench, 5000.0)
    assert not history.can_undo


def test_undo_reaches_the_paper_too(bench, history):
    before = bench.plan
    others = [it.name for it in bench.book.papers if it.name != bench.paper.name]
    bench.change_paper(others[0])
    assert bench.paper.name == others[0]
    history.undo()
    assert bench.plan == before
    assert bench.sheet.output.sha256 == before.setup.profile_sha256


def test_another_master_begins_a_new_history(bench, history):
    ask_width(bench, 200.0)
    masters = sorted(Path(bench.master_spec.file).parent.glob("*.tif"))
    other = next(it for it in masters if str(it) != bench.master_spec.file)
    bench.change_master(other)
    assert not history.can_undo
