"""The strongest edge: measured on a file's pixels as closed forms predict it."""

import numpy as np
import pytest
from closed_forms import gaussian_overshoot
from scipy.special import ndtr

from printplan.colour.spaces import encode
from printplan.errors import SpecError
from printplan.pixels.master import open_master
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.pixels.strongest_edge import strongest_edge, strongest_edge_of
from printplan.sharpening.edge_trace import find_straight_edge
from printplan.sharpening.response import SpreadCurve
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace

PPI = 300.0
PX_MM = 25.4 / PPI
SHAPE = (200, 240)
# From 10 to 90 % a Gaussian edge takes twice the normal quantile of 0.9.
RISE_SIGMAS = 2 * 1.2815515655
VIEW = {"spread": 60.0, "distance_mm": 400.0}


def light_of(lightness):
    # CIE 015:2018, 8.2.1, above L* 8.
    return ((np.asarray(lightness) + 16) / 116) ** 3


def distance(turn_deg, shape=SHAPE, through=(120.3, 99.7)):
    """Of each pixel's centre from a line, to its light side."""
    rows, columns = np.indices(shape)
    turn = np.radians(turn_deg)
    return (columns - through[0]) * np.cos(turn) + (rows - through[1]) * np.sin(turn)


def edge_l(turn_deg=5.0, edge_sigma_px=1.0, levels=(46.0, 58.0), **at):
    dark, light = levels
    return dark + (light - dark) * ndtr(distance(turn_deg, **at) / edge_sigma_px)


@pytest.fixture
def sheet_of(master_of, plan_for):
    """A print whose pixels are the master's own, of lightness given."""

    def make(lightness, **changes):
        codes = encode(NamedSpace.ROMM_RGB, light_of(lightness)) * 65535
        master = master_of(np.rint(np.repeat(codes[..., None], 3, 2)).astype(np.uint16))
        settings = {
            "paper": "Heron Baryta 315",
            "width_mm": lightness.shape[1] * PX_MM,
            "ppi": PPI,
        }
        plan = plan_for(master, **(settings | changes))
        assert plan.picture_in_file.width == lightness.shape[1]
        return build_sheet(master, plan)

    return make


def closed_form(position, gain, radius, softness):
    """An error function's edge after unsharp masking with a Gaussian."""
    wide = np.hypot(softness, radius)
    return (1 + gain) * ndtr(position / softness) - gain * ndtr(position / wide)


def closed_width(gain, radius, softness):
    position = np.linspace(0, 20, 20001)
    above = closed_form(position, gain, radius, softness) - 1
    return np.ptp(position[above >= above.max() / 2])


# Tones of a step of 12 L* go through the paper's tables, whose slope changes by a few
# per cent there; and light, not L*, spreads in paper. Of an overshoot of 0.2 that is:
OVERSHOOT_ATOL = 0.005


@pytest.mark.parametrize("turn_deg", [0.0, 5.0, 31.0, 90.0, -50.0, 185.0])
@pytest.mark.parametrize(
    ("gain", "radius_px", "edge_sigma_px"), [(1.0, 1.5, 1.0), (1.5, 2.0, 1.2)]
)
def test_overshoot_is_the_closed_forms(
    sheet_of, turn_deg, gain, radius_px, edge_sigma_px
):
    sheet = sheet_of(
        edge_l(turn_deg, edge_sigma_px), gain=gain, radius_mm=radius_px * PX_MM
    )
    edge = strongest_edge(sheet, sheet.plan.picture_in_file, **VIEW)
    in_print = np.hypot(edge_sigma_px, 0.060 / PX_MM)
    for profile, softness in ((edge.in_file, edge_sigma_px), (edge.in_print, in_print)):
        expected = gaussian_overshoot(gain=gain, radius=radius_px, softness=softness)
        sides = [profile.light.overshoot_share, profile.dark.overshoot_share]
        assert np.mean(sides) == pytest.approx(expected, abs=OVERSHOOT_ATOL)
        assert sides == pytest.approx([expected] * 2, abs=2 * OVERSHOOT_ATOL)
        width_um = closed_width(gain, radius_px, softness) * PX_MM * 1000
        # An upright edge meets the pixels at one place only, and a spline between
        # them widens or narrows a halo of 1.7 px by some hundredths.
        assert profile.light.width_um == pytest.approx(width_um, rel=0.06)
    # A minute of arc at 400 mm is 400 tan(1/60°) = 0.11636 mm.
    assert edge.in_print.light.width_arcmin == pytest.approx(
        edge.in_print.light.width_um / 116.36, rel=1e-3
    )


def crest_px(gain, radius, softness):
    """Where that edge is highest, from the middle outwards."""
    position = np.linspace(0, 20, 20001)
    return position[closed_form(position, gain, radius, softness).argmax()]


def test_the_crest_is_the_closed_forms(sheet_of):
    gain, radius_px, edge_sigma_px = 1.5, 2.0, 1.2
    sheet = sheet_of(
        edge_l(31.0, edge_sigma_px), gain=gain, radius_mm=radius_px * PX_MM
    )
    edge = strongest_edge(sheet, sheet.plan.picture_in_file, **VIEW)
    in_print = np.hypot(edge_sigma_px, 0.060 / PX_MM)
    for profile, softness in ((edge.in_file, edge_sigma_px), (edge.in_print, in_print)):
        expected_mm = crest_px(gain, radius_px, softness) * PX_MM
        for side in (profile.light, profile.dark):
            # Light, not L*, spreads in paper: a step of 12 L* bends it a little.
            assert side.crest_mm == pytest.approx(expected_mm, abs=0.2 * PX_MM)


def local_crest(position_mm, lightness_l):
    """The first point outwards that is higher than both neighbours, by itself."""
    middle = position_mm.size // 2
    for at in range(middle + 1, position_mm.size - 1):
        if lightness_l[at - 1] < lightness_l[at] >= lightness_l[at + 1]:
            return at
    return None


def test_a_tone_that_climbs_beside_the_edge_is_no_halo(sheet_of):
    """As in photographs: the picture goes on to brighten far out."""
    slope = 0.12 * np.maximum(distance(5.0) - 5, 0)
    lightness = edge_l() + np.minimum(slope, 1.0)
    sheet = sheet_of(lightness, gain=1.5, radius_mm=1.5 * PX_MM)
    edge = strongest_edge(sheet, sheet.plan.picture_in_file, **VIEW)
    own = edge.before.light
    assert own.overshoot_share == 0
    expected = gaussian_overshoot(gain=1.5, radius=1.5, softness=1.0)
    assert edge.in_file.light.overshoot_share == pytest.approx(expected, abs=0.03)
    assert edge.in_file.light.overshoot_share > edge.in_print.light.overshoot_share > 0
    for profile in (edge.in_file, edge.in_print):
        at = local_crest(edge.position_mm, profile.lightness_l)
        assert profile.light.crest_mm == edge.position_mm[at]


@pytest.mark.slow
def test_marks_of_a_photograph_stand_on_its_own_crests(studio, plan_for):
    """Found again on the curves, and lower in the print than in the file."""
    with open_master(studio.scenario.seed_heads) as master:
        sheet = build_sheet(master, plan_for(master, width_mm=360.0, gain=0.8))
        picture = sheet.plan.picture_in_file
        below = Box(picture.left, picture.bottom - 600, 900, 600)
        places = [below, below.moved(1676, 0), below.moved(3352, 0)]
        edge = strongest_edge_of(sheet, places, **VIEW)
    for profile in (edge.in_file, edge.in_print):
        at = local_crest(edge.position_mm, profile.lightness_l)
        assert profile.light.crest_mm == edge.position_mm[at]
        assert at < edge.position_mm.size - 20
    file, paper = edge.in_file.light, edge.in_print.light
    assert file.overshoot_share > paper.overshoot_share > 0


@pytest.mark.parametrize("edge_sigma_px", [0.8, 1.5])
def test_width_of_the_edge_is_the_gaussians(sheet_of, edge_sigma_px):
    sheet = sheet_of(edge_l(12.0, edge_sigma_px))
    edge = strongest_edge(sheet, sheet.plan.picture_in_file, **VIEW)
    sharp_um = RISE_SIGMAS * edge_sigma_px * PX_MM * 1000
    psf_sigma_um = RISE_SIGMAS * np.hypot(edge_sigma_px * PX_MM * 1000, 60)
    assert edge.before.rise_um == pytest.approx(sharp_um, rel=0.02)
    assert edge.in_file.rise_um == pytest.approx(edge.before.rise_um, rel=1e-6)
    assert edge.in_print.rise_um == pytest.approx(psf_sigma_um, rel=0.02)
    assert edge.in_print.light.overshoot_share < 0.005
    assert "no halo" in edge.words


def test_the_edge_is_where_it_was_drawn(sheet_of):
    sheet = sheet_of(edge_l(20.0))
    picture = sheet.plan.picture_in_file
    edge = strongest_edge(sheet, picture, **VIEW)
    turn = np.radians(20)
    # A pixel's centre lies half a pixel beyond its left top corner.
    across = edge.across_px - picture.left - 0.5 - 120.3
    down = edge.down_px - picture.top - 0.5 - 99.7
    assert across * np.cos(turn) + down * np.sin(turn) == pytest.approx(0, abs=0.05)
    assert edge.angle_deg == pytest.approx(20, abs=0.3)
    assert edge.position_mm[edge.position_mm.size // 2] == 0
    assert np.diff(edge.position_mm) == pytest.approx(PX_MM / 8)


def test_both_tones_are_those_of_the_proof(sheet_of):
    sheet = sheet_of(edge_l())
    picture = sheet.plan.picture_in_file
    edge = strongest_edge(sheet, picture, **VIEW)
    ends = sheet.proof(sheet.window(picture)[100:101, [2, -3]], Appearance.PAPER_ALONE)
    # IEC 61966-2-1, 5.2, above code 10; CIE L* of a grey's light.
    light = ((ends[0, :, 1] / 255 + 0.055) / 1.055) ** 2.4
    expected = 116 * np.cbrt(light) - 16
    assert [edge.dark_l, edge.light_l] == pytest.approx(expected, abs=0.3)
    assert edge.in_print.lightness_l[[0, -1]] == pytest.approx(expected, abs=0.3)


def test_print_is_the_light_of_the_file_spread(sheet_of):
    """With a strong edge too, where L* would be wrong: a convolution done apart."""
    sheet = sheet_of(edge_l(0.0, 1.2, (20, 90)), gain=1.2, radius_mm=1.5 * PX_MM)
    edge = strongest_edge(sheet, sheet.plan.picture_in_file, **VIEW)
    position = edge.position_mm
    step = position[1] - position[0]
    reach = np.arange(-80, 81) * step
    kernel = np.exp(-0.5 * (reach / 0.060) ** 2)
    padded = np.pad(edge.in_file.luminance, 80, mode="edge")
    expected = np.convolve(padded, kernel / kernel.sum(), mode="valid")
    assert edge.in_print.luminance == pytest.approx(expected, abs=0.003)


def test_a_measured_response_spreads_like_its_gaussian(sheet_of):
    frequency = np.linspace(0.05, 12, 240)
    values = np.exp(-2 * (np.pi * 0.06 * frequency) ** 2)
    curve = SpreadCurve(cycles_per_mm=tuple(frequency), values=tuple(values))
    sheet = sheet_of(edge_l(), gain=1.0, radius_mm=1.5 * PX_MM)
    picture = sheet.plan.picture_in_file
    one = strongest_edge(sheet, picture, **VIEW)
    other = strongest_edge(sheet, picture, **(VIEW | {"spread": curve}))
    middle = one.position_mm.size // 2, other.position_mm.size // 2
    reach = min(middle)
    profiles = [
        edge.in_print.lightness_l[at - reach : at + reach + 1]
        for edge, at in zip((one, other), middle, strict=True)
    ]
    assert profiles[0] == pytest.approx(profiles[1], abs=0.02)


def test_the_strongest_of_several_is_taken(sheet_of):
    lightness = np.concatenate(
        [
            edge_l(8.0, 2.0, shape=(120, 240), through=(120, 60)),
            edge_l(-8.0, 1.0, shape=(120, 240), through=(120, 60)),
        ]
    )
    sheet = sheet_of(lightness)
    picture = sheet.plan.picture_in_file
    edge = strongest_edge(sheet, picture, **VIEW)
    assert edge.angle_deg == pytest.approx(-8, abs=0.5)
    halves = [
        Box(picture.left, picture.top + top, picture.width, 110) for top in (0, 130)
    ]
    both = strongest_edge_of(sheet, halves, **VIEW)
    assert both.box == halves[1]
    weaker = strongest_edge_of(sheet, halves[:1], **VIEW)
    assert weaker.angle_deg == pytest.approx(8, abs=0.5)


def ring():
    rows, columns = np.indices(SHAPE)
    return 46 + 12 * ndtr(np.hypot(rows - 100, columns - 120) - 14)


def line():
    return 46 + 30 * np.exp(-0.5 * (distance(10.0) / 2) ** 2)


def noise():
    return np.random.default_rng(3).normal(50, 4, SHAPE).clip(20, 90)


@pytest.mark.parametrize(
    "lightness",
    [np.full(SHAPE, 50.0), edge_l(levels=(50, 55)), ring(), line(), noise()],
    ids=["even", "weak", "ring", "line", "noise"],
)
def test_a_window_without_a_straight_edge_says_so(sheet_of, lightness):
    sheet = sheet_of(lightness)
    picture = sheet.plan.picture_in_file
    with pytest.raises(SpecError, match="Open a window on a plain outline"):
        strongest_edge(sheet, picture, **VIEW)
    with pytest.raises(SpecError, match="None of 1 windows"):
        strongest_edge_of(sheet, [picture], **VIEW)


def test_no_window_at_all_says_so(sheet_of):
    with pytest.raises(SpecError, match="Give one window or more"):
        strongest_edge_of(sheet_of(edge_l()), [], **VIEW)


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"distance_mm": 0.0}, "50 to 50000 mm"),
        ({"spread": 900.0}, "0 to 500 µm"),
        ({"spread": float("nan")}, "0 to 500 µm"),
    ],
)
def test_a_number_out_of_range_is_refused(sheet_of, changes, remedy):
    sheet = sheet_of(edge_l())
    with pytest.raises(SpecError, match=remedy):
        strongest_edge(sheet, sheet.plan.picture_in_file, **(VIEW | changes))


def test_a_window_without_room_is_refused():
    with pytest.raises(SpecError, match="print pixels or more"):
        find_straight_edge(np.zeros((28, 200), np.float32), room_px=8)


def test_an_edge_at_the_window_border_is_not_taken():
    """Its profile would leave the window."""
    lightness = edge_l(0.0, through=(4, 100)).astype(np.float32)
    with pytest.raises(SpecError, match="plain outline"):
        find_straight_edge(lightness, room_px=8)
