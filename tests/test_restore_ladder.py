"""Steps of restore for a trial sheet."""

import re
from dataclasses import replace

import pytest

from printplan.errors import SpecError
from printplan.pixels.master import open_master
from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sheet import build_sheet
from printplan.pixels.trials.steps import TrialKey, TrialPatch, restore_steps
from printplan.pixels.trials.trial_sheet import restore_ladder
from printplan.sharpening.limits import SharpenLimits
from printplan.sizing.boxes import Box


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


def test_steps_that_a_limit_makes_alike_are_refused(sheet, content):
    """Restore 1, 1.25 and 1.5 end at one gain; the remedy's steps differ."""
    limits = SharpenLimits(halo_limit=0.03)
    with pytest.raises(SpecError, match="would look alike") as refused:
        restore_ladder(
            sheet, content, (0.5, 1.0, 1.25, 1.5), distance_mm=400, limits=limits
        )
    assert "halo limit decided" in refused.value.problem
    named = re.search(r"Try ([\d., ]+) alone", refused.value.remedy)[1]
    restores = [float(value) for value in named.split(", ")]
    steps = restore_ladder(sheet, content, restores, distance_mm=400, limits=limits)
    gains = [step.spec.sharpen.gain for step in steps]
    assert len(set(gains)) == len(restores) > 1


def test_one_gain_under_two_labels_is_no_trial(sheet, content):
    sharpen = chosen_sharpening(sheet.plan, content, distance_mm=400).spec
    twins = [("restore 1", sharpen), ("restore 1.5", replace(sharpen, restore=1.5))]
    with pytest.raises(SpecError, match="give the same pixels") as refused:
        restore_steps(sheet, twins)
    assert "'restore 1.5'" in refused.value.remedy


def test_a_pick_among_alike_patches_is_no_preference(sheet, content):
    """A key from before such steps were refused."""
    sharpen = chosen_sharpening(sheet.plan, content, distance_mm=400).spec
    box = Box(0, 0, 10, 10)
    patches = [
        TrialPatch(
            name=name,
            label=f"restore {restore:g}",
            window=box,
            on_page=box,
            sharpen=replace(sharpen, restore=restore, gain=gain),
            colour=sheet.plan.spec.colour,
        )
        for name, restore, gain in (("A", 0.5, 0.4), ("B", 1.0, 0.78), ("C", 1.5, 0.78))
    ]
    key = TrialKey(patches=tuple(patches), squares=None)
    assert key.restore_trial("A").picked == 0.5
    with pytest.raises(SpecError, match=r"1 and 1\.5 were stopped by a limit"):
        key.restore_trial("B")


def test_a_restore_that_cannot_be_meant_is_refused(sheet, content):
    with pytest.raises(SpecError, match=r"0 to 1\.5"):
        restore_ladder(sheet, content, (0.5, 2.0), distance_mm=400)
