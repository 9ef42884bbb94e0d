"""Maps are laid over the picture so that both are seen, and read by any eye."""

import time

import numpy as np
import pytest
from matplotlib.figure import Figure

from printplan.colour.difference import delta_e_2000
from printplan.colour.losses import DEAD, DistanceSummary
from printplan.colour.spaces import (
    decode,
    encode,
    lab_from_xyz,
    xyz_d50_from_linear,
)
from printplan.errors import SpecError
from printplan.spec import NamedSpace
from printplan.workbook.drawings.maps import (
    Difference,
    draw_reach,
    draw_reach_scale,
    draw_separation,
    draw_separation_scale,
    reach_words,
    separation_words,
)
from printplan.workbook.drawings.page import screen_rgb
from printplan.workbook.drawings.paint import (
    FULL_REACH_DELTA_E,
    paint_reach,
    paint_separation,
)

TONES = (40, 90, 128, 170, 215)

# Severity 1 of Machado, Oliveira & Fernandes (2009), doi:10.1109/TVCG.2009.113.
VISIONS = ["normal", "Protanomaly", "Deuteranomaly", "Tritanomaly"]


def grey(tone, count):
    return np.full((1, count, 3), tone, np.uint8)


def lab_seen(rgb, vision):
    """CIELAB of sRGB pixels as somebody with that colour vision sees them."""
    linear = decode(NamedSpace.SRGB, rgb / 255)
    if vision != "normal":
        import colour  # noqa: PLC0415 - a second to load

        linear = linear @ np.array(colour.CVD_MATRICES_MACHADO2010[vision][1.0]).T
    to_xyz = xyz_d50_from_linear(NamedSpace.SRGB)
    return lab_from_xyz(np.clip(linear, 0, 1) @ to_xyz.T)


# Paint


@pytest.mark.parametrize("tone", TONES)
def test_what_the_paper_holds_stays_bare(tone):
    """At 0 nothing is painted; at 1.1, a good round trip, hardly anything."""
    painted = paint_reach(grey(tone, 3), np.array([[0.0, 0.5, 1.1]]))[0].astype(int)
    assert np.ptp(painted[:2]) == 0
    assert np.abs(painted[2] - painted[0]).max() <= 10


@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.parametrize("tone", TONES)
def test_paint_is_seen_by_every_eye_from_the_flag_on(tone, vision):
    distance = np.array([[0.0, 2.0, 3.0, 5.0, 8.0, 12.0, 16.0]])
    lab = lab_seen(paint_reach(grey(tone, 7), distance), vision)[0]
    from_bare = delta_e_2000(lab[0], lab[1:])
    # The flag at 2 is a tint, and from 3 on the paint is plain (5 dE00).
    assert from_bare[0] > 2
    assert from_bare[1:].min() > 5


@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.parametrize("tone", TONES)
def test_the_scale_rises_in_lightness_from_thick_paint_on(tone, vision):
    """A perceptual sequence: farther is lighter, for every eye and on every tone."""
    distance = np.linspace(4.0, FULL_REACH_DELTA_E, 25)[None]
    lightness = lab_seen(paint_reach(grey(tone, 25), distance), vision)[0, :, 0]
    assert (np.diff(lightness) > -0.3).all()
    assert lightness[-1] - lightness[0] > 20


def test_the_picture_is_seen_through_the_thickest_paint():
    tones = np.array(TONES, np.uint8)
    picture = np.repeat(tones[None, :, None], 3, axis=2)
    painted = paint_reach(picture, np.full((1, 5), 99.0))
    lightness = lab_seen(painted, "normal")[0, :, 0]
    assert (np.diff(lightness) > 1.5).all()


def test_distances_beyond_the_scale_look_like_its_end():
    distance = np.array([[FULL_REACH_DELTA_E, 50.0, 1e6]])
    assert np.ptp(paint_reach(grey(100, 3), distance), axis=1).max() == 0


def test_colours_of_the_picture_do_not_pass_for_paint():
    """Red and green of one tone give the same grey."""
    picture = np.array([[[200, 0, 0], [0, 102, 0]]], np.uint8)
    bare = paint_reach(picture, np.zeros((1, 2)))
    assert np.ptp(bare.astype(int), axis=2).max() == 0
    assert np.abs(bare[0, 0].astype(int) - bare[0, 1]).max() <= 1


def test_merged_detail_is_hatched_and_other_loss_is_not():
    picture = np.full((48, 48, 3), 120, np.uint8)
    for left, is_hatched in ((DEAD - 0.01, True), (DEAD + 0.01, False), (1.0, False)):
        painted = paint_separation(picture, np.full((48, 48), left))
        assert (len(np.unique(painted.reshape(-1, 3), axis=0)) == 2) == is_hatched
        dark = (painted.max(axis=2) < 40).mean()
        # A sixth of the area: seen, and still the picture between.
        assert dark == pytest.approx(1 / 6 if is_hatched else 0, abs=0.02)


def test_nothing_is_painted_where_separation_is_kept_or_grows():
    painted = paint_separation(grey(100, 3), np.array([[1.0, 1.4, 0.95]]))
    assert np.ptp(painted) == 0


@pytest.mark.parametrize("paint", [paint_reach, paint_separation])
def test_a_map_of_another_size_is_refused(paint):
    with pytest.raises(SpecError, match="Take both from one overview"):
        paint(np.zeros((4, 5, 3), np.uint8), np.zeros((5, 4)))


@pytest.mark.parametrize("paint", [paint_reach, paint_separation])
def test_painting_leaves_what_it_is_given_alone(paint):
    picture, values = grey(100, 4), np.full((1, 4), 0.05, np.float32)
    paint(picture, values)
    assert (picture == 100).all()
    assert (values == np.float32(0.05)).all()


@pytest.mark.parametrize("paint", [paint_reach, paint_separation])
def test_painting_is_quick_enough_for_a_panel(paint):
    rng = np.random.default_rng(2)
    picture = rng.integers(0, 256, (800, 1200, 3), dtype=np.uint8)
    values = rng.random((800, 1200), np.float32)
    paint(picture, values)
    taken = []
    for _ in range(7):
        start_s = time.process_time()
        paint(picture, values)
        taken.append(time.process_time() - start_s)
    # 13 and 19 ms were measured on the slowest machine at hand; the rest is slack.
    assert min(taken) < 0.1


# Figures


def plain_axes():
    return Figure().add_subplot()


def test_the_map_is_drawn_pixel_by_pixel_on_the_axes_given():
    picture = grey(128, 6)
    distance = np.linspace(0, 16, 6)[None]
    for draw, paint in (
        (draw_reach, paint_reach),
        (draw_separation, paint_separation),
    ):
        axes = plain_axes()
        assert draw(picture, distance, axes) is axes
        shown = axes.images[0].get_array()
        assert (shown[..., :3] == paint(picture, distance)).all()
        assert (shown[..., 3] == 255).all()


def test_the_reach_scale_is_in_dE00_with_marks_at_both_limits():  # noqa: N802
    axes = draw_reach_scale(plain_axes())
    assert axes.get_xlabel().endswith("(dE00)")
    labels = [label.get_text() for label in axes.get_xticklabels()]
    assert labels == ["0", "2", "5", "10", "16+"]
    assert {line.get_xdata()[0] for line in axes.lines} == {2.0, 5.0}
    assert axes.get_xlim() == (0, FULL_REACH_DELTA_E)


@pytest.mark.parametrize("difference", list(Difference))
def test_the_separation_scale_marks_where_detail_has_merged(difference):
    axes = draw_separation_scale(plain_axes(), difference)
    assert {line.get_xdata()[0] for line in axes.lines} == {DEAD}
    assert "merged" in [
        label.get_text().split("\n")[-1] for label in axes.get_xticklabels()
    ]
    # Loss grows to the right, as it does on the reach scale.
    assert axes.get_xlim() == (1, 0)


def test_reach_is_told_in_words_with_its_numbers():
    words = reach_words(
        DistanceSummary(share_out=0.123, share_far_out=0.041, p95_delta_e=3.26)
    )
    for number in ("12.3%", "4.1%", "3.3 dE00", "more than 2 dE00", "more than 5"):
        assert number in words


def test_separation_is_told_in_words_with_its_number():
    assert "In 15.0% of the picture detail of tone" in separation_words(
        Difference.TONE, 0.15
    )
    assert "of colour" in separation_words(Difference.CHROMA, 0.15)


# Screen colours

# CSS Color Module Level 4 (W3C), 9.3: Lab of the sRGB corners under D50, from its
# sample code; printed to 2 decimals, hence an 8-bit step.
CSS_CORNERS = {
    (255, 0, 0): (54.29, 80.80, 69.89),
    (0, 255, 0): (87.82, -79.27, 80.99),
    (0, 0, 255): (29.57, 68.30, -112.03),
    (255, 255, 255): (100.0, 0.0, 0.0),
    (0, 0, 0): (0.0, 0.0, 0.0),
}


@pytest.mark.parametrize("rgb", CSS_CORNERS)
def test_screen_colours_match_published_corners(rgb):
    shown = screen_rgb(np.array([CSS_CORNERS[rgb]]))[0].astype(int)
    assert np.abs(shown - rgb).max() <= 2


def test_colours_beyond_the_screen_keep_lightness_and_hue():
    beyond = np.array([[60.0, -90, 10], [40, 10, -110], [70, 90, 60], [90, -20, 120]])
    shown = screen_rgb(beyond)
    to_xyz = xyz_d50_from_linear(NamedSpace.SRGB)
    lab = lab_from_xyz(decode(NamedSpace.SRGB, shown / 255) @ to_xyz.T)
    assert np.abs(lab[:, 0] - beyond[:, 0]).max() < 0.5
    turn = np.arctan2(lab[:, 2], lab[:, 1]) - np.arctan2(beyond[:, 2], beyond[:, 1])
    assert np.abs(np.degrees(turn)).max() < 1.0
    assert (np.hypot(*lab[:, 1:].T) < np.hypot(*beyond[:, 1:].T)).all()
    # As much chroma as fits: one channel at an end of its range.
    assert ((shown.min(axis=1) <= 1) | (shown.max(axis=1) >= 254)).all()


def test_colours_of_the_screen_come_back():
    codes = np.random.default_rng(9).integers(0, 256, (200, 3))
    linear = decode(NamedSpace.SRGB, codes / 255)
    lab = lab_from_xyz(linear @ xyz_d50_from_linear(NamedSpace.SRGB).T)
    assert np.abs(screen_rgb(lab).astype(int) - codes).max() <= 1
    assert encode(NamedSpace.SRGB, linear) == pytest.approx(codes / 255)
