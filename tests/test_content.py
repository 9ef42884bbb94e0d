import numpy as np
import pytest
from benchmarks.sharpening_choice import PHOTOGRAPHS, print_lightness
from closed_forms import gaussian_overshoot
from scipy import ndimage
from scipy.special import ndtr

from printplan.errors import SpecError
from printplan.sharpening.content import SHARPENED_OVERSHOOT, measure_content
from printplan.sharpening.kernel import gaussian_kernel
from printplan.sizing.resampling import resample_plane

SQUARE_PX, STEP_L = 100, 30.0


def squares(sigma_px, *, noise_l=0.0):
    """Four turned squares, 30 L* above their ground, with Gaussian edges."""
    rows, columns = np.indices((400, 400), dtype=np.float64)
    picture = np.full((400, 400), 35.0)
    for index in range(4):
        turn = np.radians(7 + 29 * index)
        down = rows - (100 + 200 * (index // 2))
        across = columns - (100 + 200 * (index % 2))
        along = across * np.cos(turn) + down * np.sin(turn)
        beside = down * np.cos(turn) - across * np.sin(turn)
        half = SQUARE_PX / 2
        bars = [
            ndtr((place + half) / sigma_px) - ndtr((place - half) / sigma_px)
            for place in (along, beside)
        ]
        picture += STEP_L * bars[0] * bars[1]
    return with_noise(picture, noise_l)


def with_noise(picture, noise_l):
    rng = np.random.default_rng(11)
    return (picture + rng.normal(0, noise_l, picture.shape)).astype(np.float32)


def unsharp_masked(picture, gain, radius_px):
    kernel = gaussian_kernel(radius_px)
    blurred = ndimage.correlate1d(picture.astype(np.float64), kernel, axis=0)
    blurred = ndimage.correlate1d(blurred, kernel, axis=1)
    return (picture + gain * (picture - blurred)).astype(np.float32)


# Edges


@pytest.mark.slow
@pytest.mark.parametrize("noise_l", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("sigma_px", [0.5, 0.7, 1.0, 2.0, 3.5])
def test_softness_of_known_edges(sigma_px, noise_l):
    """Within 10 %, as the package promises from 0.5 px on."""
    facts = measure_content(squares(sigma_px, noise_l=noise_l))
    assert facts.master_edge_sigma_px == pytest.approx(sigma_px, rel=0.1)
    assert not facts.already_sharpened


def test_the_strongest_edges_tones_are_told():
    facts = measure_content(squares(0.7, noise_l=0.2))
    assert facts.edge_tones_l == pytest.approx((35, 35 + STEP_L), abs=0.5)
    even = measure_content(with_noise(np.full((200, 200), 40.0), 0.3))
    assert even.edge_tones_l is None


@pytest.mark.slow
def test_softness_is_that_of_the_sharpest_edges():
    """A sharp picture beside a soft one: what is in focus counts."""
    both = np.hstack([squares(0.8), squares(3.0)])
    facts = measure_content(both)
    assert facts.master_edge_sigma_px == pytest.approx(0.8, rel=0.1)


@pytest.mark.slow
def test_softness_leaves_out_the_resamplings_part():
    """Edges of 0.6 master px, enlarged 2.5 times by the pixels' own code."""
    small = squares(0.6)
    rows, columns = small.shape
    large = resample_plane(small, (0, 0, columns, rows), (1000, 1000))
    facts = measure_content(large, enlargement=2.5)
    assert facts.master_edge_sigma_px == pytest.approx(0.6 * 2.5, rel=0.1)
    assert facts.master_edge_sigma_px <= facts.edge_sigma_px


def test_a_picture_without_edges_has_no_softness():
    """Nothing is guessed: slow waves have no edge to measure."""
    rows, columns = np.indices((400, 400))
    waves = 50 + 20 * np.sin(rows / 40) * np.cos(columns / 55)
    facts = measure_content(with_noise(waves, 0.3))
    assert facts.master_edge_sigma_px is None
    assert facts.edge_sigma_px is None
    assert facts.overshoot_share is None
    assert not facts.already_sharpened


@pytest.mark.parametrize(
    ("gain", "radius_px", "sigma_px"), [(1.0, 1.0, 0.6), (1.0, 1.5, 0.7), (2.0, 1, 1)]
)
@pytest.mark.parametrize("noise_l", [0.0, 0.5])
def test_sharpened_edges_are_recognised_by_their_overshoot(
    gain, radius_px, sigma_px, noise_l
):
    picture = with_noise(unsharp_masked(squares(sigma_px), gain, radius_px), noise_l)
    facts = measure_content(picture)
    closed = gaussian_overshoot(gain=gain, radius=radius_px, softness=sigma_px)
    # Averaged along seven pixels and across directions: a hundredth of the step.
    assert facts.overshoot_share == pytest.approx(closed, abs=0.01)
    assert facts.already_sharpened
    assert closed > SHARPENED_OVERSHOOT


# Noise


@pytest.mark.parametrize("noise_l", [0.2, 0.5, 1.0, 2.5])
def test_noise_of_known_strength(noise_l):
    """Within 10 %, on slow shading and between edges."""
    rows, columns = np.indices((500, 500))
    shading = 50 + 25 * np.sin(rows / 120) * np.cos(columns / 90)
    assert measure_content(with_noise(shading, noise_l)).noise_l == pytest.approx(
        noise_l, rel=0.1
    )
    found = measure_content(squares(0.8, noise_l=noise_l)).noise_l
    assert found == pytest.approx(noise_l, rel=0.1)


def test_specks_are_not_noise():
    """One pixel in a hundred is dust: the median leaves it out."""
    picture = squares(0.8, noise_l=0.5)
    specks = np.random.default_rng(3).random(picture.shape) < 0.01
    picture[specks] = 95
    assert measure_content(picture).noise_l == pytest.approx(0.5, rel=0.15)


@pytest.mark.parametrize("enlargement", [0.6, 1.5, 2.0])
def test_noise_of_a_resampled_picture_is_what_a_pixel_has(enlargement):
    """Resampling colours the noise; the number is still a print pixel's deviation."""
    drawn = np.random.default_rng(8).normal(0, 1, (400, 400)).astype(np.float32)
    side = round(400 * enlargement)
    after = resample_plane(drawn, (0, 0, 400, 400), (side, side))
    facts = measure_content(50 + after, enlargement=enlargement)
    assert facts.noise_l == pytest.approx(float(after.std()), rel=0.1)


@pytest.mark.parametrize("enlargement", [1.5, 2.0, 3.0])
def test_noise_of_a_print_is_told_from_its_masters_pixels(enlargement):
    """What is measured before resampling, against what pixels have after it."""
    drawn = np.random.default_rng(8).normal(0, 1, (400, 400)).astype(np.float32)
    side = round(400 * enlargement)
    after = resample_plane(drawn, (0, 0, 400, 400), (side, side))
    facts = measure_content(50 + after, enlargement=enlargement, in_master=50 + drawn)
    assert facts.noise_l == pytest.approx(float(after.std()), rel=0.05)


@pytest.mark.slow
def test_edges_of_a_print_are_told_from_its_masters_pixels():
    """Softness before and after resampling, by the pixels' own code."""
    small = squares(0.6)
    large = resample_plane(small, (0, 0, 400, 400), (1000, 1000))
    told = measure_content(large, enlargement=2.5, in_master=small)
    found = measure_content(large, enlargement=2.5)
    assert told.master_edge_sigma_px == pytest.approx(0.6 * 2.5, rel=0.1)
    assert told.master_edge_sigma_px == pytest.approx(
        found.master_edge_sigma_px, rel=0.1
    )
    assert told.edge_sigma_px == pytest.approx(found.edge_sigma_px, rel=0.1)
    assert told.texture_share == found.texture_share


def test_noise_is_told_apart_by_tone():
    dark = with_noise(np.full((300, 300), 12.0), 1.5)
    light = with_noise(np.full((300, 300), 70.0), 0.5)
    facts = measure_content(np.hstack([dark, light]))
    found = {band.lowest_l: band.noise_l for band in facts.noise_by_tone}
    assert found[2.0] == pytest.approx(1.5, rel=0.1)
    assert found[60.0] == pytest.approx(0.5, rel=0.1)
    assert all(band.noise_l >= 0 for band in facts.noise_by_tone)


def test_clipped_places_do_not_hide_the_noise():
    """Half of the picture is burnt out, without any noise."""
    sky = np.full((300, 300), 100.0, np.float32)
    ground = with_noise(np.full((300, 300), 45.0), 0.8)
    facts = measure_content(np.hstack([sky, ground]))
    assert facts.noise_l == pytest.approx(0.8, rel=0.1)


# Texture


def texture(shape, contrast_l):
    """Random detail of some two pixels, like foliage from afar."""
    drawn = np.random.default_rng(6).normal(0, 1, shape)
    fine = ndimage.gaussian_filter(drawn, 1.2)
    return contrast_l * fine / fine.std()


@pytest.mark.parametrize("textured_share", [0.0, 0.25, 0.5, 1.0])
def test_shares_of_texture_and_smooth_area(textured_share):
    rows, columns = np.indices((320, 640))
    picture = 50 + 15 * np.sin(rows / 150) + columns / 60
    width = round(640 * textured_share)
    picture[:, :width] += texture((320, 640), 6.0)[:, :width]
    facts = measure_content(with_noise(picture, 0.3))
    # Squares on the seam, of which there are 40 across, belong to neither.
    assert facts.texture_share == pytest.approx(textured_share, abs=0.04)
    assert facts.smooth_share == pytest.approx(1 - textured_share, abs=0.04)


def test_noise_is_not_texture():
    facts = measure_content(with_noise(np.full((320, 320), 50.0), 3.0))
    assert facts.texture_share == 0
    assert facts.smooth_share > 0.95


@pytest.mark.parametrize("size_px", [0.0, 0.7, 1.2, 2.0])
@pytest.mark.parametrize("strength_l", [1.5, 3.5])
def test_grain_is_noise_and_not_texture(size_px, strength_l):
    """Film grain of several pixel sizes on slow shades, alike all over."""
    rows, columns = np.indices((480, 640))
    shade = 50 + 20 * np.sin(rows / 110) * np.cos(columns / 150)
    drawn = np.random.default_rng(6).normal(0, 1, rows.shape)
    drawn = ndimage.gaussian_filter(drawn, size_px) if size_px else drawn
    drawn *= strength_l / drawn.std()
    facts = measure_content((shade + drawn).astype(np.float32))
    assert facts.texture_share < 0.02
    assert facts.smooth_share > 0.9
    high_pass = drawn - ndimage.gaussian_filter(drawn, 1.0)
    assert facts.grain_l == pytest.approx(high_pass.std(), rel=0.1)


@pytest.mark.slow
def test_grain_over_texture_leaves_the_texture(photographs_in_l):
    """A stream in a wood stays texture, with grain on it and without."""
    lightness, enlargement = photographs_in_l["stream"]
    clean = measure_content(lightness, enlargement=enlargement)
    assert clean.grain_l == 0
    drawn = np.random.default_rng(6).normal(0, 1.0, lightness.shape)
    grainy = measure_content(
        np.clip(lightness + drawn, 0, 100).astype(np.float32), enlargement=enlargement
    )
    assert grainy.words.startswith("Texture nearly everywhere")


def test_single_edges_are_neither_smooth_nor_texture():
    facts = measure_content(squares(0.7, noise_l=0.2))
    # Corners point two ways.
    assert facts.texture_share < 0.05
    assert 0.5 < facts.smooth_share < 0.95


# Parts


def test_parts_count_together():
    """Edges of known softness in one part, noise in another, texture in a third."""
    rng = np.random.default_rng(2)
    edges = squares(0.8, noise_l=0.5)
    plain = with_noise(np.full((400, 400), 60.0), 0.5)
    busy = 50 + texture((400, 400), 6.0) + rng.normal(0, 0.5, (400, 400))
    alone = measure_content(edges)
    facts = measure_content([edges, plain, busy])
    assert facts.edge_count == alone.edge_count
    assert facts.master_edge_sigma_px == pytest.approx(0.8, rel=0.1)
    assert facts.noise_l == pytest.approx(0.5, rel=0.1)
    assert facts.texture_share == pytest.approx(1 / 3, abs=0.04)


def test_a_list_of_one_part_is_the_picture():
    picture = squares(0.8, noise_l=0.5)
    assert measure_content([picture]) == measure_content(picture)


def test_nothing_is_measured_between_parts():
    """A dark and a light half have an edge in common only where they are one picture.

    It is slanted, and both parts end just beside it.
    """
    rows, columns = np.indices((300, 640))
    edge = with_noise(20 + 60 * ndtr((columns - 320 + 0.05 * rows) / 0.8), 0.3)
    apart = measure_content([edge[:, :300], edge[:, 325:]])
    joined = measure_content(edge)
    assert apart.edge_count == 0
    assert joined.edge_count > 100


@pytest.mark.slow
def test_parts_share_the_places_that_are_looked_at():
    """Four thousand places in all, not in each part; see `picture_edges`."""
    parts = [squares(0.8, noise_l=0.2)] * 8
    facts = measure_content(parts)
    assert facts.edge_count <= 4000
    assert facts.master_edge_sigma_px == pytest.approx(0.8, rel=0.1)


@pytest.mark.slow
@pytest.mark.parametrize("textured_share", [0.25, 0.75])
def test_shares_of_many_megapixels_are_those_of_their_middles(textured_share):
    """Eight parts of a megapixel, each textured down to the same column."""
    width = round(1024 * textured_share)
    part = np.full((1024, 1024), 50.0)
    part[:, :width] += np.tile(texture((256, 256), 6.0), (4, 4))[:, :width]
    facts = measure_content([with_noise(part, 0.3)] * 8)
    assert facts.texture_share == pytest.approx(textured_share, abs=0.03)
    assert facts.smooth_share == pytest.approx(1 - textured_share, abs=0.03)


# The demo's photographs


@pytest.fixture(scope="module")
def photographs_in_l():
    """L* and enlargement of each at 300 ppi, 150 mm long."""
    return {name: print_lightness(name, 150.0, 300.0) for name in PHOTOGRAPHS}


@pytest.fixture(scope="module")
def photograph_facts(photographs_in_l):
    return {
        name: measure_content(lightness, enlargement=enlargement)
        for name, (lightness, enlargement) in photographs_in_l.items()
    }


def test_photographs_are_ordered_by_what_one_sees(photograph_facts):
    """Seed heads before blurred meadow, a bowl on concrete, a stream in a wood."""
    smooth = {name: facts.smooth_share for name, facts in photograph_facts.items()}
    textured = {name: facts.texture_share for name, facts in photograph_facts.items()}
    assert smooth["seed-heads"] > smooth["red-bowl"] > smooth["stream"]
    assert textured["stream"] > textured["red-bowl"] > textured["seed-heads"]


def test_photographs_are_described_in_one_sentence(photograph_facts):
    words = {name: facts.words for name, facts in photograph_facts.items()}
    assert words["seed-heads"].startswith("Mostly smooth")
    assert words["stream"].startswith("Texture nearly everywhere")
    assert all(sentence.endswith(".") for sentence in words.values())


def test_photographs_have_sharp_edges_and_little_noise(photograph_facts):
    """Finished photographs in focus: soft by about a pixel, noise below 1.5 L*."""
    for facts in photograph_facts.values():
        assert 0.3 < facts.edge_sigma_px < 1.2
        assert 0.05 < facts.noise_l < 1.5


@pytest.mark.slow
def test_blurring_a_photograph_makes_it_softer_and_smoother(
    photographs_in_l, photograph_facts
):
    lightness, enlargement = photographs_in_l["red-bowl"]
    sharp = photograph_facts["red-bowl"]
    blurred = ndimage.gaussian_filter(lightness, 1.5)
    soft = measure_content(blurred, enlargement=enlargement)
    # Blurs add in squares, less what the camera's own sharpening narrowed the edges.
    added = np.hypot(sharp.edge_sigma_px, 1.5)
    assert 0.7 * added < soft.edge_sigma_px < 1.1 * added
    assert soft.smooth_share > sharp.smooth_share
    assert soft.noise_l < sharp.noise_l


# What cannot be measured


def test_a_blank_picture_has_neither_edges_nor_noise():
    facts = measure_content(np.full((128, 200), 50.0))
    assert (facts.noise_l, facts.edge_count) == (0.0, 0)
    assert facts.master_edge_sigma_px is None
    assert (facts.smooth_share, facts.texture_share) == (1.0, 0.0)


def test_a_small_part_of_a_large_enlargement_says_nothing_of_edges():
    facts = measure_content(squares(2.0)[:150, :150], enlargement=20.0)
    assert facts.master_edge_sigma_px is None


@pytest.mark.parametrize(
    ("picture", "remedy"),
    [
        (np.full((64, 400), 50.0), "128 px or more"),
        (np.full((400, 400, 3), 50.0), "rows × columns"),
        (np.full((200, 200), 50_000.0), "from 0 to 100"),
        (np.full((200, 200), np.nan), "without gaps"),
        (np.full((200, 200), 100.0), "between L"),
    ],
)
def test_content_refuses_what_is_no_picture_in_l(picture, remedy):
    with pytest.raises(SpecError, match=remedy):
        measure_content(picture)


def test_content_refuses_no_parts_and_any_that_is_no_picture():
    with pytest.raises(SpecError, match="one part or more"):
        measure_content([])
    with pytest.raises(SpecError, match="128 px or more"):
        measure_content([squares(0.8), squares(0.8)[:100]])


@pytest.mark.parametrize("enlargement", [0.0, -1.0, float("nan"), 1000.0])
def test_content_refuses_an_enlargement_that_no_print_has(enlargement):
    with pytest.raises(SpecError, match=r"0\.02 to 50"):
        measure_content(np.full((200, 200), 50.0), enlargement=enlargement)


def test_an_edge_from_black_to_white_keeps_to_the_tones_there_are():
    """A master of pure black and white rings past both when it is resampled."""
    lightness = np.tile(np.repeat([-0.4, 100.4], 32), (256, 8))
    softened = ndimage.gaussian_filter1d(lightness, 0.8, axis=1)
    tones_l = measure_content(softened.clip(-0.4, 100.4)).edge_tones_l
    assert tones_l == pytest.approx((0, 100), abs=0.2)
    assert 0 <= tones_l[0] < tones_l[1] <= 100
