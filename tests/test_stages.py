"""What the stages do to edges, flat fields, grain and 8-bit steps."""

import numpy as np
import pytest
from closed_forms import gaussian_overshoot
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from printplan.colour.spaces import lab_from_xyz, named_profile
from printplan.colour.transforms import colorants_xyz, luminance_weights
from printplan.pixels.stages import dithered_to_8_bit
from printplan.sharpening.lightness import lighten, luminance
from printplan.sharpening.unsharp import sharpen_lightness
from printplan.spec import NamedSpace, SharpenSpec

ROMM = named_profile(NamedSpace.ROMM_RGB)
WEIGHTS = luminance_weights(ROMM)


def light_of(lightness):
    # CIE 015:2018, 8.2.1.
    return np.where(
        lightness > 8, ((lightness + 16) / 116) ** 3, lightness / (29 / 3) ** 3
    )


def sharpened(lightness, radius_px=1.5, **wishes):
    """Lightness of a neutral picture after sharpening."""
    planes = np.stack([light_of(lightness)] * 3).astype(np.float32)
    sharpen_lightness(planes, WEIGHTS, SharpenSpec(**wishes), radius_px)
    y = planes[1].astype(float)
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, (29 / 3) ** 3 * y)


@pytest.fixture
def edge():
    """A step from L* 30 to 70, 60 pixels wide."""
    return np.where(np.arange(60) < 30, 30.0, 70.0) * np.ones((40, 1))


def test_overshoot_of_a_step_is_half_the_gain(edge):
    """Of a sharp step unsharp masking overshoots by gain times half the step.

    Closed form: next to a step of a discrete picture the Gaussian has half of its
    weight on the other side, less half of its middle sample.
    """
    done = sharpened(edge, gain=0.5, radius_px=3.0)
    kernel = np.exp(-0.5 * (np.arange(-12, 13) / 3.0) ** 2)
    other_side = kernel[13:].sum() / kernel.sum()
    assert done.max() - 70 == pytest.approx(0.5 * 40 * other_side, abs=0.02)
    assert 30 - done.min() == pytest.approx(0.5 * 40 * other_side, abs=0.02)


@pytest.mark.parametrize("limit", [0.0, 0.05, 0.12])
def test_halo_limit_bounds_every_pixel(edge, limit):
    done = sharpened(edge, gain=3.0, halo_limit_share=limit)
    # Table steps of 0.003 L*, and single precision.
    assert done.max() <= 70 + 40 * limit + 0.01
    assert done.min() >= 30 - 40 * limit - 0.01
    if limit:
        assert done.max() == pytest.approx(70 + 40 * limit, abs=0.01)


@pytest.mark.parametrize(("ground_l", "line_l"), [(70, 30), (30, 70)])
def test_a_line_of_one_pixel_keeps_its_tone_where_no_halo_is_allowed(ground_l, line_l):
    picture = np.where(np.arange(61) == 30, line_l, ground_l) * np.ones((41, 1))
    for lines in (picture, picture.T):
        done = sharpened(lines, gain=3.0, halo_limit_share=0.0)
        # Table steps of 0.003 L*, and single precision.
        assert np.abs(done - lines).max() <= 0.01


@given(st.floats(2, 98), st.floats(0, 10))
def test_flat_fields_stay_as_they_are(level, gain):
    flat = np.full((12, 12), level)
    assert np.abs(sharpened(flat, gain=gain) - flat).max() <= 0.01


def test_grain_floor_leaves_grain_and_sharpens_edges(edge):
    grain = np.random.default_rng(1).normal(0, 0.2, edge.shape)
    done = sharpened(edge + grain, gain=1.0, grain_floor_l=1.0)
    quiet = np.s_[:, 5:15]
    assert np.abs(done - edge - grain)[quiet].max() <= 0.01
    assert done.max() > 76


def test_a_full_colour_stays_within_what_pixels_hold():
    dark, full = np.array([0.1, 0.005, 0.005]), np.array([1.0, 0.05, 0.05])
    step = np.where(np.arange(60) < 30, dark[:, None], full[:, None])
    linear = np.repeat(step[:, None], 40, axis=1).astype(np.float32)
    sharpen_lightness(linear, WEIGHTS, SharpenSpec(gain=3.0), 1.5)
    assert linear.max() == 1
    assert linear.min() >= 0


def test_hue_and_chroma_ratios_stay():
    """Difference of hue at most 0.1 degrees-worth: dE in hue, CIELAB."""
    rng = np.random.default_rng(4)
    linear = rng.uniform(0.2, 0.5, (3, 30, 30)).astype(np.float32)
    before = linear.astype(float)
    sharpen_lightness(linear, WEIGHTS, SharpenSpec(gain=0.3), 1.0)
    shares = linear / linear.sum(axis=0)
    assert np.abs(shares - before / before.sum(axis=0)).max() <= 1e-6
    labs = [
        lab_from_xyz(np.moveaxis(each, 0, -1) @ colorants_xyz(ROMM).T)
        for each in (before, linear.astype(float))
    ]
    hues = [np.arctan2(lab[..., 2], lab[..., 1]) for lab in labs]
    chroma = np.sqrt(
        np.hypot(labs[0][..., 1], labs[0][..., 2])
        * np.hypot(labs[1][..., 1], labs[1][..., 2])
    )
    delta_h = 2 * chroma * np.sin((hues[1] - hues[0]) / 2)
    assert np.abs(delta_h).max() <= 0.1


def test_dither_keeps_means_and_exact_codes():
    grey = np.full((400, 500, 3), 30_001, np.uint16)
    done = dithered_to_8_bit(grey, 0, 0, seed=5)
    assert set(np.unique(done)) == {116, 117}
    # 600,000 draws: the mean's standard error is 0.0006 codes.
    assert done.mean() == pytest.approx(30_001 / 257, abs=0.004)
    for code in (0, 128 * 257, 65535):
        exact = dithered_to_8_bit(np.full((9, 9, 1), code, np.uint16), 3, 4, seed=1)
        assert (exact == code // 257).all()


def test_dither_follows_its_seed():
    grey = np.full((60, 60, 3), 30_001, np.uint16)
    first = dithered_to_8_bit(grey, 0, 0, seed=1)
    assert np.array_equal(first, dithered_to_8_bit(grey, 0, 0, seed=1))
    assert not np.array_equal(first, dithered_to_8_bit(grey, 0, 0, seed=2))


@pytest.mark.parametrize("enlargement", [1.0, 2.0, 3.0, 6.0])
def test_halo_limit_above_the_overshoot_spares_an_enlarged_edge(enlargement):
    """Closed form of the overshoot: `gaussian_overshoot`, held by its own tests."""
    edge_sigma_px, radius_px, gain = 0.6 * enlargement, 0.9, 1.5
    edge = 55 + 5 * special.erf(np.arange(-40, 41) / edge_sigma_px / 2**0.5)
    overshoot = gaussian_overshoot(gain=gain, radius=radius_px, softness=edge_sigma_px)
    light = np.broadcast_to(light_of(edge), (3, 5, 81)).astype(np.float32)
    free, held = (
        sharpen_lightness(
            light.copy(),
            WEIGHTS,
            SharpenSpec(gain=gain, halo_limit_share=limit),
            radius_px,
            enlargement,
        )
        for limit in (None, overshoot + 0.02)
    )
    assert np.array_equal(held, free)


def lightened(lightness, lighten_l):
    linear = np.broadcast_to(light_of(lightness), (3, 1, len(lightness)))
    lighten(linear := linear.astype(np.float32), WEIGHTS, lighten_l)
    y = luminance(linear, WEIGHTS)[0].astype(float)
    # CIE 015:2018, 8.2.1.
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, (29 / 3) ** 3 * y)


@pytest.mark.parametrize("lighten_l", [-15.0, -4.0, 3.5, 15.0])
def test_lightening_moves_the_middle_by_its_number_and_keeps_the_ends(lighten_l):
    """Our own definition: L* + 4 k x (1 - x). A table by root steps by 0.003 L*."""
    before = np.array([0.0, 25.0, 50.0, 75.0, 100.0])
    moved = lightened(before, lighten_l) - before
    assert moved == pytest.approx(np.array([0, 0.75, 1, 0.75, 0]) * lighten_l, abs=0.01)


@pytest.mark.parametrize("lighten_l", [-15.0, 15.0])
def test_lightening_never_turns_tones_round(lighten_l):
    after = lightened(np.linspace(0, 100, 4001), lighten_l)
    assert np.all(np.diff(after) >= 0)


def test_lightening_keeps_chroma_ratios():
    linear = np.array([0.2, 0.1, 0.05], np.float32).reshape(3, 1, 1)
    ratio = lighten(linear.copy(), WEIGHTS, 6.0) / linear
    assert np.ptp(ratio) < 1e-6
    assert ratio.min() > 1.05
