"""Slanted squares among text, pictures and rulers."""

from functools import cache, partial

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy import ndimage
from scipy.special import erf

from printplan.demo.photographs import SLANTED_EDGES, draw_chart
from printplan.errors import SpecError
from printplan.sharpening.squares import (
    EdgeRegion,
    ExpectedSquares,
    Side,
    cut_edge,
    find_edges,
    search_squares,
)

PX_PER_MM = 8
SHEET_MM = (150, 100)
SQUARE_MM = 8
# Middle in mm, turn on the sheet, tone of the square and of its ground from 0 to 1: two
# rows of three, in reading order.
SQUARES = [
    ((20, 20), 5, 0.25, 0.48),
    ((45, 20), -5, 0.35, 0.66),
    ((70, 20), 5, 0.48, 0.80),
    ((20, 45), -5, 0.15, 0.27),
    ((45, 45), 5, 0.74, 0.58),
    ((70, 45), -5, 0.74, 0.93),
]
WHITE = 0.93


def turned(middle, side, angle_deg):
    """Corners of a square, clockwise positive as the picture is looked at."""
    turn = np.exp(1j * np.radians(angle_deg))
    corners = side / 2 * np.array([-1 - 1j, 1 - 1j, 1 + 1j, -1 + 1j]) * turn
    return [(middle[0] + corner.real, middle[1] + corner.imag) for corner in corners]


@pytest.fixture(scope="module")
def sheet(photographs):
    """A drawn sheet, smoothed twofold: squares on grounds, frame, text, photograph."""
    scale = 2 * PX_PER_MM
    width, height = (edge * scale for edge in SHEET_MM)
    image = Image.new("L", (width, height), round(255 * WHITE))
    draw = ImageDraw.Draw(image)

    def box(left, top, right, bottom, **how):
        draw.rectangle([edge * scale for edge in (left, top, right, bottom)], **how)

    box(5, 5, 85, 58, outline=60, width=scale // 3)
    for (x, y), angle_deg, inside, ground in SQUARES:
        box(x - 9, y - 9, x + 9, y + 9, fill=round(255 * ground))
        corners = turned((x, y), SQUARE_MM, angle_deg)
        places = [(across * scale, down * scale) for across, down in corners]
        draw.polygon(places, fill=round(255 * inside))
    # A square that stands straight, a grey scale, ruler lines and writing.
    box(95, 10, 107, 22, fill=120)
    for step in range(6):
        box(110 + 6 * step, 10, 116 + 6 * step, 22, fill=30 + 35 * step)
    for line in range(40):
        box(95 + line, 26, 95.2 + line, 30, fill=40)
    for line in range(12):
        words = f"{line}: the tone of D0 [] and H# as it prints, 20 lines of 8"
        draw.text((8 * scale, (61 + 3 * line) * scale), words, fill=40, font_size=40)
    with Image.open(photographs / "seed-heads.jpg") as photograph:
        grey = photograph.convert("L").resize((45 * scale, 60 * scale))
    image.paste(grey, (95 * scale, 35 * scale))
    return np.asarray(image.reduce(2), np.float32) / 255


@pytest.fixture(scope="module")
def scanned(sheet):
    return cache(partial(lie, sheet))


def lie(sheet, turn_deg, noise=0.01, blur_px=0.8):
    """The sheet as it lies on a scanner, turned clockwise."""
    # `rotate` turns the other way round, as rows count downwards.
    lying = ndimage.rotate(sheet, -turn_deg, order=1, cval=WHITE)
    lying = ndimage.gaussian_filter(lying, blur_px)
    generator = np.random.default_rng(3)
    lying = lying + generator.normal(0, noise, lying.shape)
    return np.round(np.clip(lying, 0, 1) * 255) / 255


def place_px(shape, point_mm, turn_deg):
    """Where a point of the sheet lies in its scan."""
    from_middle = complex(
        point_mm[0] - SHEET_MM[0] / 2, point_mm[1] - SHEET_MM[1] / 2
    ) * np.exp(1j * np.radians(turn_deg))
    x = (shape[1] - 1) / 2 + from_middle.real * PX_PER_MM
    y = (shape[0] - 1) / 2 + from_middle.imag * PX_PER_MM
    return x, y


@pytest.mark.slow
@pytest.mark.parametrize("turn_deg", [-4.0, 0.0, 2.0, 4.0])
def test_all_squares_are_found_in_reading_order_and_nothing_else(scanned, turn_deg):
    scan = scanned(turn_deg)
    regions = find_edges(scan, expected=ExpectedSquares(count=len(SQUARES)))
    assert [region.square for region in regions] == [
        n for n in range(6) for _ in "tlrb"
    ]
    assert [region.side for region in regions] == list(Side) * 6
    for region in regions:
        middle, angle_deg, inside, ground = SQUARES[region.square]
        # Corners of a square of 64 px, drawn to half a pixel.
        assert region.tilt_deg == pytest.approx(angle_deg + turn_deg, abs=0.45)
        # Two codes: rounding of fill and scan, and what noise leaves of a median.
        assert region.dark == pytest.approx(min(inside, ground), abs=2 / 255)
        assert region.light == pytest.approx(max(inside, ground), abs=2 / 255)
        outward = {"top": -1j, "left": -1, "right": 1, "bottom": 1j}[region.side]
        outward *= SQUARE_MM / 2 * np.exp(1j * np.radians(angle_deg))
        edge = (middle[0] + outward.real, middle[1] + outward.imag)
        x, y = place_px(scan.shape, edge, turn_deg)
        # Within the drawing's own rounding to half a pixel, and the box's to one.
        assert region.left + (region.width - 1) / 2 == pytest.approx(x, abs=1.5)
        assert region.top + (region.height - 1) / 2 == pytest.approx(y, abs=1.5)


@pytest.mark.slow
def test_a_region_holds_one_edge_between_two_even_tones(scanned):
    scan = scanned(2.0, noise=0)
    for region in find_edges(scan):
        part = cut_edge(scan, region)
        assert part.shape == (region.height, region.width)
        across = part if region.side in {Side.LEFT, Side.RIGHT} else part.T
        ends = sorted([across[:, :3].mean(), across[:, -3:].mean()])
        assert ends == pytest.approx([region.dark, region.light], abs=0.01)
        assert across[:, :3].std() < 0.01
        assert across[:, -3:].std() < 0.01


@pytest.mark.slow
def test_without_a_count_the_same_squares_are_found(scanned):
    scan = scanned(1.0)
    expected = ExpectedSquares(count=len(SQUARES))
    assert find_edges(scan) == find_edges(scan, expected=expected)


@pytest.mark.slow
def test_a_large_scan_is_searched_as_a_small_one(scanned):
    scan = scanned(2.0, noise=0)
    large = np.repeat(np.repeat(scan, 2, axis=0), 2, axis=1)
    assert max(large.shape) > 2000
    for small_region, region in zip(find_edges(scan), find_edges(large), strict=True):
        assert region.tilt_deg == pytest.approx(small_region.tilt_deg, abs=0.2)
        middle = (region.left + region.width / 2) / 2
        expected = small_region.left + small_region.width / 2
        assert middle == pytest.approx(expected, abs=1.5)


def test_a_reduced_picture_loses_no_place():
    """Drawn by formula: four soft edges, and the middle where it was put."""
    down, across = np.mgrid[:700, :2200].astype(np.float32)
    turn = np.exp(-1j * np.radians(6))
    away = ((across - 1000.3) + 1j * (down - 350.8)) * turn
    inside = np.ones(away.shape)
    for part in (away.real, away.imag):
        inside *= (erf((part + 150) / 2) - erf((part - 150) / 2)) / 2
    (square,) = search_squares(0.8 - 0.4 * inside)
    # A tenth of a pixel of the picture that was searched, which is half as large.
    assert square.x_px == pytest.approx(1000.3, abs=0.2)
    assert square.y_px == pytest.approx(350.8, abs=0.2)
    assert square.side_px == pytest.approx(300, abs=0.4)
    assert square.tilt_deg == pytest.approx(6, abs=0.1)
    assert square.inside == pytest.approx(0.4, abs=1e-3)
    assert square.outside == pytest.approx(0.8, abs=1e-3)


def test_a_square_with_a_torn_corner_is_no_target():
    draft = Image.new("L", (300, 300), 200)
    draw = ImageDraw.Draw(draft)
    corners = turned((150, 150), 120, 6)
    draw.polygon(corners, fill=120)
    assert len(find_edges(np.asarray(draft) / 255)) == 4
    draw.polygon(turned(corners[0], 54, 6), fill=200)
    with pytest.raises(SpecError, match="No slanted square"):
        find_edges(np.asarray(draft) / 255)


@pytest.mark.slow
def test_the_square_on_the_studio_chart_is_found_among_its_other_patches():
    chart = draw_chart()[..., 1] / 65535
    regions = find_edges(chart)
    assert [region.side for region in regions] == list(Side)
    assert regions[0].tilt_deg == pytest.approx(5, abs=0.1)
    middle = np.mean([region.left + (region.width - 1) / 2 for region in regions])
    expected = SLANTED_EDGES.left + (SLANTED_EDGES.width - 1) / 2
    assert middle == pytest.approx(expected, abs=2)


def test_a_square_is_found_in_coarse_grain():
    draft = Image.new("L", (400, 400), 200)
    ImageDraw.Draw(draft).polygon(turned((200, 200), 200, 7), fill=140)
    grain = np.random.default_rng(4).normal(0, 0.1, (400, 400))
    regions = find_edges(np.asarray(draft) / 255 + grain)
    assert len(regions) == 4
    assert regions[0].tilt_deg == pytest.approx(7, abs=0.5)


@pytest.mark.slow
def test_missing_squares_are_told(scanned):
    with pytest.raises(
        SpecError, match=r"6 slanted squares .* has 7\. Scan that whole"
    ):
        find_edges(scanned(1.0), expected=ExpectedSquares(count=7))


@pytest.mark.slow
def test_too_many_squares_are_told(scanned):
    with pytest.raises(
        SpecError, match=r"6 slanted squares .* has 4\. Scan that whole"
    ):
        find_edges(scanned(1.0), expected=ExpectedSquares(count=4))


@pytest.mark.slow
def test_a_square_of_another_size_is_left_out_when_fewer_are_expected(sheet):
    scan = sheet.copy()
    draft = Image.fromarray(scan)
    where = [(SHEET_MM[0] - 60) * PX_PER_MM, 88 * PX_PER_MM]
    draw = ImageDraw.Draw(draft)
    draw.rectangle((where[0] - 60, where[1] - 60, where[0] + 60, where[1] + 60), WHITE)
    draw.polygon(turned(where, 50, 5), fill=0.4)
    scan = lie(np.asarray(draft), 1.0)
    assert len(find_edges(scan)) == 4 * 7
    assert len(find_edges(scan, expected=ExpectedSquares(count=6))) == 4 * 6


@pytest.mark.parametrize("picture", ["photograph", "blank", "small"])
def test_a_picture_without_squares_is_refused(picture, photographs):
    with Image.open(photographs / "stream.jpg") as image:
        photograph = np.asarray(image.convert("L").resize((900, 600))) / 255
    shown = {
        "photograph": photograph,
        "blank": np.full((300, 400), 0.9),
        "small": np.full((10, 400), 0.9),
    }
    with pytest.raises(
        SpecError, match=r"No slanted square.*Scan the whole trial sheet"
    ):
        find_edges(shown[picture])


@pytest.mark.parametrize(
    ("picture", "told"),
    [
        (np.full((50, 50), 200.0), "from 200 to 200.*Divide its codes"),
        (np.full((50, 50), np.nan), "from nan to nan.*Divide its codes"),
        (np.full((50, 50, 3), 0.5), "one grey channel"),
        (np.full((50, 50), 200, np.uint8), "as floating point"),
    ],
    ids=["codes", "not-a-number", "colour", "whole-numbers"],
)
def test_a_picture_of_another_kind_is_refused(picture, told):
    with pytest.raises(SpecError, match=told):
        find_edges(picture)


@pytest.mark.parametrize(("count", "tilt_deg"), [(0, 5.0), (1, 0.0), (1, 60.0)])
def test_an_impossible_expectation_is_refused(count, tilt_deg):
    with pytest.raises(SpecError, match="Expect one square or more"):
        ExpectedSquares(count=count, tilt_deg=tilt_deg)


def test_a_cut_is_a_view_of_the_box():
    picture = np.arange(30.0).reshape(5, 6)
    region = EdgeRegion(
        square=0, side=Side.TOP, left=1, top=2, width=3, height=2,
        tilt_deg=5.0, dark=0.0, light=1.0,
    )  # fmt: skip
    assert np.array_equal(cut_edge(picture, region), picture[2:4, 1:4])
    assert np.shares_memory(cut_edge(picture, region), picture)
