"""
The halo told of a print is the halo that its file has, blurred by the paper.

A step in light, as a lens leaves it, is printed through the whole engine and measured
in the finished TIFF by plain numpy: its own decoding, its own L*, its own blur.
"""

from dataclasses import replace

import numpy as np
import pytest
import tifffile
from scipy import ndimage
from scipy.special import ndtr

from printplan.pixels.picture_content import picture_content
from printplan.pixels.render import render
from printplan.pixels.sharpening import predicted_effect
from printplan.pixels.sheet import build_sheet, varied
from printplan.spec import Delivery, DeliverySpec, Extent

# What must hold: the told halo is within this share of the step.
TOLD_ATOL = 0.02

ENLARGEMENTS = (1 / 4, 1 / 2, 2 / 3, 1, 3 / 2, 2, 4)
STEPS_L = ((45, 55), (5, 15), (15, 35), (70, 95), (20, 60), (30, 80), (5, 65), (20, 90))

# One column in 18 rows, as in `test_sharpness_prediction`.
LEAN = 18
TILT = np.arctan(1 / LEAN)


def light_of(lightness):
    """Y of L* (CIE 015:2018, 8.2.1)."""
    lightness = np.asarray(lightness, float)
    cube = ((lightness + 16) / 116) ** 3
    return np.where(lightness > 8, cube, lightness * (3 / 29) ** 3)


def lightness_of(light):
    cube = 116 * np.cbrt(light) - 16
    return np.where(light > (6 / 29) ** 3, cube, light * (29 / 3) ** 3)


def romm_code(light):
    """ISO 22028-2: a power of 1/1.8, and a straight line of 16 below 1/512."""
    curve = np.where(light < 1 / 512, 16 * light, np.maximum(light, 1e-9) ** (1 / 1.8))
    return np.rint(curve * 65535).astype(np.uint16)


def romm_light(code):
    share = code / 65535
    return np.where(share < 1 / 32, share / 16, share**1.8)


def slanted_step(enlargement, edge_sigma_px, levels):
    """A step in light; softness in master pixels. Print pixels each way are LEAN's."""
    side = 8 * LEAN * max(enlargement, 1)
    down, across = np.indices((round(side / enlargement),) * 2)
    down, across = down - down.mean(), across - across.mean()
    away = across * np.cos(TILT) + down * np.sin(TILT)
    dark, light = light_of(levels)
    code = romm_code(dark + (light - dark) * ndtr(away / edge_sigma_px))
    return code[..., np.newaxis].repeat(3, axis=2)


def across_edge(values):
    """Mean of all pixels equally far from the edge, in steps of cos(t)/18 px."""
    rows, columns = np.indices(values.shape)
    number = (LEAN * columns + rows).ravel()
    counts = np.bincount(number)
    full = counts == values.shape[0] // LEAN
    return np.bincount(number, values.ravel())[full] / counts[full]


def overshoot(profile_l, levels):
    """On the side that has more, over the step."""
    dark, light = levels
    return max(profile_l.max() - light, dark - profile_l.min()) / (light - dark)


def halo_in_print(lightness, levels, psf_sigma_um, ppi):
    """Light of the file's pixels, spread by a Gaussian, as L* again."""
    spread_px = psf_sigma_um / 1000 * ppi / 25.4
    steps = spread_px * LEAN / np.cos(TILT)
    profile = across_edge(light_of(lightness))
    spread = ndimage.gaussian_filter1d(profile, steps, mode="nearest")
    return overshoot(lightness_of(spread), levels)


@pytest.fixture
def step_of(master_of, plan_for):
    """A print of one step, not yet sharpened."""

    def make(enlargement, levels, edge_sigma_px, paper, ppi=300.0):
        master = master_of(slanted_step(enlargement, edge_sigma_px, levels))
        return build_sheet(
            master,
            plan_for(
                master,
                paper=paper,
                width_mm=master.facts.width_px * enlargement / ppi * 25.4,
                ppi=ppi,
                delivery=DeliverySpec(
                    colour=Delivery.WORKING_COLOUR, extent=Extent.PICTURE
                ),
            ),
        )

    return make


def lightness_in_file(sheet, path):
    render(sheet, path, overwrite=True)
    return lightness_of(romm_light(tifffile.imread(path)[..., 1].astype(float)))


def with_sharpening(sheet, **changed):
    spec = sheet.plan.spec
    return varied(sheet, replace(spec, sharpen=replace(spec.sharpen, **changed)))


SHARPENINGS = (
    {"gain": 0.6, "radius_mm": 0.08},
    {"gain": 1.5, "radius_mm": 0.08, "halo_limit_share": 0.12},
    {"gain": 3.0, "radius_mm": 0.12, "halo_limit_share": 0.05},
    {"gain": 1.5, "radius_mm": 0.15},
    {"gain": 2.0, "radius_mm": 0.06, "grain_floor_l": 1.5, "halo_limit_share": 0.25},
)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("paper", "edge_sigma_px"),
    [("Alder Satin 260", 0.4), ("Alder Satin 260", 0.7), ("Fen Cotton 310", 0.7)],
)
@pytest.mark.parametrize("enlargement", ENLARGEMENTS, ids="{:.2f}".format)
def test_told_halo_is_that_of_the_file_on_paper(
    step_of, tmp_path, enlargement, paper, edge_sigma_px
):
    """Eight steps from 10 to 70 L* at several levels, with and without limits."""
    wrong = {}
    for levels in STEPS_L:
        sheet = step_of(enlargement, levels, edge_sigma_px, paper)
        content = picture_content(sheet)
        for number, sharpening in enumerate(SHARPENINGS):
            printed = with_sharpening(sheet, **sharpening)
            plan = printed.plan
            told = predicted_effect(plan, content, distance_mm=400)
            lightness = lightness_in_file(printed, tmp_path / "print.tif")
            found = halo_in_print(lightness, levels, plan.paper.psf_sigma_um, plan.ppi)
            if abs(told.overshoot_in_print - found) > TOLD_ATOL:
                wrong[levels, number] = (told.overshoot_in_print, found)
            limit = plan.spec.sharpen.halo_limit_share
            # A hundredth of an L*: the codes of 16 bits, and the tables' steps.
            if limit is not None:
                step = levels[1] - levels[0]
                assert overshoot(lightness, levels) <= limit + 0.01 / step
    assert not wrong
