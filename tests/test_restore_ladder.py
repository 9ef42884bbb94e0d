"""Steps of restore for a trial sheet."""

import pytest

from printplan.errors import SpecError
from printplan.pixels.master import open_master
from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sheet import build_sheet
from printplan.pixels.trials.restore_ladder import restore_ladder


@pytest.fixture(scope="module")
def sheet(studio, plan_for):
    with open_master(studio.scenario.seed_heads) as master:
        yield build_sheet(master, plan_for(master))


@pytest.fixture(scope="module")
def content(sheet):
    return picture_content(sheet)


def test_each_step_is_the_choice_for_its_restore(sheet, content):
    restores = (0.5, 1.0)
    steps = restore_ladder(sheet, content, restores, distance_mm=400)
    assert [step.label for step in steps] == ["restore 0.5", "restore 1"]
    for step, restore in zip(steps, restores, strict=True):
        chosen = chosen_sharpening(
            sheet.plan, content, distance_mm=400, restore=restore
        )
        assert step.spec.sharpen == chosen.spec
        assert step.spec.sharpen.restore == restore
        assert step.spec.colour == sheet.plan.spec.colour


def test_more_restore_is_never_less_gain(sheet, content):
    steps = restore_ladder(sheet, content, (0.0, 0.5, 1.0), distance_mm=400)
    gains = [step.spec.sharpen.gain for step in steps]
    assert gains[0] == 0
    assert gains == sorted(gains)
    assert gains[-1] > 0


def test_a_restore_that_cannot_be_meant_is_refused(sheet, content):
    with pytest.raises(SpecError, match=r"0 to 1\.5"):
        restore_ladder(sheet, content, (0.5, 2.0), distance_mm=400)
