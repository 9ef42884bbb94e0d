"""A stage that is added as DEVELOPERS.md says keeps the window law."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from scipy import ndimage

from printplan.colour.spaces import named_profile
from printplan.pixels import sheet as sheet_module
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet
from printplan.pixels.stages import Sharpen, stages_of
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace

RECIPE = Path(__file__).parent.parent / "DEVELOPERS.md"


@dataclass(frozen=True, slots=True)
class Soften:
    """Means of the pixels up to some pixels away."""

    reach_px: int
    picture: Box

    def __call__(self, box, before):
        wider = box.grown(self.reach_px, self.picture)
        edge = 2 * self.reach_px + 1
        done = ndimage.uniform_filter(before(wider), (0, edge, edge), mode="nearest")
        at = box.moved(-wider.left, -wider.top)
        return done[:, at.top : at.bottom, at.left : at.right].copy()


@dataclass(frozen=True, slots=True)
class Fade:
    """Darken the picture from its left to its right, by the place of each pixel."""

    width_px: int
    reach_px: int = 0

    def __call__(self, box, before):
        place = np.arange(box.left, box.right, dtype=np.float32) / self.width_px
        return before(box) * (1 - place / 2)


@pytest.fixture(scope="module")
def master(textured, tmp_path_factory):
    path = tmp_path_factory.mktemp("recipe") / "master.tif"
    icc = named_profile(NamedSpace.ROMM_RGB).data
    tifffile.imwrite(path, textured, photometric="rgb", iccprofile=icc, metadata=None)
    with open_master(path) as master:
        yield master


def added(*stages):
    """`stages_of` with stages added at its end, as the recipe's second step says."""
    return lambda *given: (*stages_of(*given), *stages)


@pytest.mark.slow
@pytest.mark.parametrize("gain", [0.0, 1.2])
@pytest.mark.parametrize(
    "stages",
    [
        lambda picture: [Soften(3, picture)],
        lambda _: [Fade(700)],
        lambda picture: [Soften(2, picture), Fade(700), Soften(5, picture)],
    ],
    ids=["looks round", "by place", "three"],
)
def test_added_stages_keep_the_window_law(
    master, plan_for, tmp_path, monkeypatch, stages, gain
):
    plain = build_sheet(master, plan_for(master, width_mm=60, gain=gain))
    monkeypatch.setattr(sheet_module, "stages_of", added(*stages(plain.light.picture)))
    sheet = build_sheet(master, plain.plan)
    render(sheet, tmp_path / "file.tif")
    pixels = tifffile.imread(tmp_path / "file.tif")
    picture = sheet.plan.picture_in_file
    for box in (
        picture,
        Box(picture.left + 33, picture.top + 41, 210, 97),
        Box(picture.right - 70, picture.bottom - 50, 70, 50),
        Box(picture.left + 1, picture.top, 1, 1),
    ):
        cut = pixels[box.top : box.bottom, box.left : box.right]
        assert np.array_equal(sheet.window(box), cut)
        assert np.array_equal(sheet.window(box), cut)  # kept by now
    if gain:
        assert not np.array_equal(pixels, plain.window(Box(0, 0, *plain.size_px)))


def preceded(stage):
    """`stages_of` with a stage at its beginning, which the sharpening comes after."""

    def stages(*given):
        return (
            stage,
            *(
                replace(it, after=(stage, *it.after)) if isinstance(it, Sharpen) else it
                for it in stages_of(*given)
            ),
        )

    return stages


def test_what_is_kept_follows_the_stages_before(master, plan_for, monkeypatch):
    """Two wishes that differ in an earlier stage alone share no kept light."""
    plan = plan_for(master, width_mm=60, gain=1.2, halo_limit_share=0.1)
    sheet, seen = None, []
    for width_px in (700, 300, 700):
        monkeypatch.setattr(sheet_module, "stages_of", preceded(Fade(width_px)))
        sheet = build_sheet(master, plan, reuse=sheet)
        picture = sheet.plan.picture_in_file
        box = Box(picture.left + 33, picture.top + 41, 210, 97)
        seen.append(sheet.window(box))
        assert np.array_equal(seen[-1], build_sheet(master, plan).window(box))
    assert not np.array_equal(seen[0], seen[1])
    assert np.array_equal(seen[0], seen[2])


def test_a_stage_that_looks_farther_than_it_says_breaks_the_law(
    master, plan_for, tmp_path, monkeypatch
):
    """So the tests above can fail."""

    class Liar(Soften):
        __slots__ = ()

        def __call__(self, box, before):
            done = ndimage.uniform_filter(before(box), (0, 19, 19), mode="nearest")
            return done.astype(np.float32)

    sheet = build_sheet(master, plan_for(master, width_mm=60))
    liar = Liar(1, sheet.light.picture)
    monkeypatch.setattr(sheet_module, "stages_of", added(liar))
    sheet = build_sheet(master, sheet.plan)
    render(sheet, tmp_path / "file.tif")
    pixels = tifffile.imread(tmp_path / "file.tif")
    picture = sheet.plan.picture_in_file
    box = Box(picture.left + 33, picture.top + 41, 40, 30)
    cut = pixels[box.top : box.bottom, box.left : box.right]
    assert not np.array_equal(sheet.window(box), cut)


def test_the_recipe_names_what_the_tests_above_use():
    recipe = RECIPE.read_text("utf-8").split("### To add a stage")[1].split("\n## ")[0]
    for name in ("pixels/stages.py", "`Stage`", "`reach_px`", "`stages_of`"):
        assert name in recipe
    assert "tests/test_stage_recipe.py" in recipe
