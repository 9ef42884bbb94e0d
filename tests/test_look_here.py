"""The windows that are proposed lie where the decision really shows."""

import re
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from printplan.colour.losses import OUT_OF_GAMUT, gamut_distance
from printplan.colour.spaces import decode, lab_from_xyz, xyz_d50_from_linear
from printplan.errors import SpecError
from printplan.pixels.look_here import Reason, look_here
from printplan.pixels.search import (
    LEAST_OF_BEST,
    MOST_SHARED,
    Windows,
    lightness_of,
    neighbour_steps,
    texture_of,
)
from printplan.pixels.sheet import build_sheet
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace

ROWS, COLUMNS = 400, 600
MIDDLE_GREY = 24000  # Code of ROMM RGB; L* near 42.
PRINT_PPI, WIDTH_MM = 300.0, 152.4  # 1800 print pixels across: three to one.
WINDOW_PX = (360, 240)
OVERVIEW_PX = 900

# Where each synthetic picture has its one place: rows and columns of the master.
PLACE = (slice(60, 140), slice(420, 540))


@pytest.fixture
def looked_at(master_of, plan_for):
    """Places of a picture that is printed three times as large."""

    def look(pixels, **changes):
        master = master_of(pixels)
        plan = plan_for(
            master, paper="Heron Baryta 315", width_mm=WIDTH_MM, ppi=PRINT_PPI
        )
        sheet = build_sheet(master, plan)
        overview = sheet.overview(OVERVIEW_PX)
        return sheet, look_here(sheet, overview, **{"window_px": WINDOW_PX} | changes)

    return look


def flat():
    return np.full((ROWS, COLUMNS, 3), MIDDLE_GREY, np.uint16)


def printed_place(sheet):
    """`PLACE` in file pixels."""
    picture = sheet.plan.picture_in_file
    scale = picture.width / COLUMNS
    rows, columns = PLACE
    return Box(
        picture.left + round(columns.start * scale),
        picture.top + round(rows.start * scale),
        round((columns.stop - columns.start) * scale),
        round((rows.stop - rows.start) * scale),
    )


def share_of(box, other):
    """Share of the second box that lies in the first."""
    common = box.common(other)
    return common.width * common.height / (other.width * other.height) if common else 0


def found(places, reason):
    return next(place for place in places if place.reason is reason)


def told(places, start):
    """The window of which a sentence is told, be it its first or a further one."""
    return next(
        place
        for place in places
        if any(words.startswith(start) for words in (place.words, *place.also))
    )


def all_words(places):
    return " ".join(words for place in places for words in (place.words, *place.also))


def with_noise(base, spread, seed=4):
    """Neutral noise round a code, in `PLACE` alone."""
    picture = flat()
    rows, columns = PLACE
    shape = (rows.stop - rows.start, columns.stop - columns.start)
    # Clumps of a few pixels: texture that an overview keeps.
    rng = np.random.default_rng(seed)
    noise = rng.normal(0, spread, (shape[0] // 4, shape[1] // 4)).repeat(4, 0)
    picture[PLACE] = np.clip(base + noise.repeat(4, 1), 0, 65535)[..., None]
    return picture


@pytest.mark.slow
def test_colours_out_of_reach_are_found(looked_at):
    picture = flat()
    picture[PLACE] = (52000, 3000, 3000)
    sheet, places = looked_at(picture)
    place = found(places, Reason.REACH)
    # The window is as large as the patch and lies on it but for a pixel or two.
    assert share_of(place.box, printed_place(sheet)) > 0.95
    assert places[0] is place


def test_the_share_that_is_quoted_is_that_of_the_window(looked_at):
    """The patch is out of reach all over, as the profile itself says."""
    picture = flat()
    picture[PLACE] = (52000, 3000, 3000)
    sheet, places = looked_at(picture)
    linear = decode(NamedSpace.ROMM_RGB, np.array([[52000, 3000, 3000]]) / 65535)
    lab = lab_from_xyz(linear @ xyz_d50_from_linear(NamedSpace.ROMM_RGB).T)
    distance = gamut_distance(lab, sheet.output)[0]
    assert distance > OUT_OF_GAMUT
    words = found(places, Reason.REACH).words
    # All but the pixels at its edge, which are mixed with the grey beside it.
    assert int(re.search(r"(\d+)% of this window", words)[1]) > 95
    quoted = float(re.search(r"within ([\d.]+)\.$", words)[1])
    assert quoted == pytest.approx(distance, abs=1.0)


def test_texture_in_the_shadows_is_found(looked_at):
    sheet, places = looked_at(with_noise(4200, 900))
    place = told(places, "Most texture in the deepest tones (below L* 20)")
    assert share_of(place.box, printed_place(sheet)) > 0.8


@pytest.mark.slow
def test_texture_of_middle_tones_does_not_pass_for_shadows(looked_at):
    _, places = looked_at(with_noise(MIDDLE_GREY, 3000))
    assert "deepest tones" not in all_words(places)
    assert "paper white" not in all_words(places)


@pytest.mark.slow
def test_detail_near_paper_white_is_found(looked_at):
    sheet, places = looked_at(with_noise(60000, 1500))
    place = told(places, "Lightest detail, near paper white (above L* 90)")
    assert share_of(place.box, printed_place(sheet)) > 0.8


@pytest.mark.slow
def test_empty_white_is_no_detail(looked_at):
    picture = flat()
    picture[PLACE] = 65535
    _, places = looked_at(picture)
    assert "paper white" not in all_words(places)


@pytest.mark.slow
def test_the_finest_detail_is_found_in_print_pixels(looked_at):
    """Two patches of one contrast; the finer one has more steps between pixels."""
    picture = flat()
    rows, columns = np.indices((ROWS, COLUMNS))
    fine = ((rows // 2 + columns // 2) % 2) * 16000
    coarse = ((rows // 16 + columns // 16) % 2) * 16000
    away = (slice(250, 330), slice(60, 180))
    picture[away] += coarse[away][..., None].astype(np.uint16)
    picture[PLACE] += fine[PLACE][..., None].astype(np.uint16)
    sheet, places = looked_at(picture)
    place = told(places, "Most fine detail")
    assert share_of(place.box, printed_place(sheet)) > 0.8


@pytest.mark.slow
def test_the_intents_are_compared_where_they_differ(looked_at):
    """Grey prints alike in both; a green beyond the paper does not."""
    picture = flat()
    picture[PLACE] = (3000, 52000, 3000)
    sheet, places = looked_at(picture)
    place = told(places, "The intents differ most here")
    assert share_of(place.box, printed_place(sheet)) > 0.8


@pytest.mark.slow
def test_one_place_is_given_once_with_all_its_reasons(looked_at):
    """Dark noise is out of reach, deep in tone and fine, all at the one place."""
    sheet, places = looked_at(with_noise(4200, 900))
    (place,) = places
    assert place.reason is Reason.REACH
    assert len(place.also) >= 2
    assert share_of(place.box, printed_place(sheet)) > 0.8


def test_a_flat_picture_gives_its_middle_and_says_so(looked_at):
    sheet, places = looked_at(flat())
    (place,) = places
    assert place.reason is Reason.NOTHING_STANDS_OUT
    assert place.words.startswith("Nothing stands out, so this is the middle")
    picture = sheet.plan.picture_in_file
    assert place.box.left - picture.left == (picture.width - WINDOW_PX[0]) // 2
    assert place.box.top - picture.top == (picture.height - WINDOW_PX[1]) // 2
    assert (place.box.width, place.box.height) == WINDOW_PX


@pytest.fixture
def busy(textured):
    """Everything at once, in two halves of different contrast."""
    picture = np.tile(textured, (2, 2, 1))
    picture[: len(textured)] //= 3
    return picture


@pytest.mark.slow
def test_windows_lie_in_the_picture_and_hardly_share(looked_at, busy):
    sheet, places = looked_at(busy)
    assert 3 <= len(places) <= 5
    assert len({place.reason for place in places}) == len(places)
    picture = sheet.plan.picture_in_file
    for place in places:
        assert place.box.common(picture) == place.box
        assert (place.box.width, place.box.height) == WINDOW_PX
        assert place.words.endswith(".")
        assert any(letter.isdigit() for letter in place.words)
    for one, other in combinations(places, 2):
        # A pixel of rounding on each side of 360 × 240.
        assert share_of(one.box, other.box) <= MOST_SHARED + 0.01


@pytest.mark.slow
def test_the_same_picture_gives_the_same_places(looked_at, busy):
    assert looked_at(busy)[1] == looked_at(busy)[1]


@pytest.mark.slow
def test_no_more_than_asked_for(looked_at, busy):
    _, all_places = looked_at(busy)
    _, two = looked_at(busy, most=2)
    assert two == all_places[:2]


@pytest.mark.slow
def test_a_window_larger_than_the_picture_is_cut_to_it(looked_at, busy):
    sheet, places = looked_at(busy, window_px=(9000, 9000))
    # There is but one such window, so one reason.
    assert [place.box for place in places] == [sheet.plan.picture_in_file]


@pytest.mark.parametrize(
    "wrong", [{"most": 0}, {"window_px": (0, 600)}, {"window_px": (900, -1)}]
)
def test_nothing_cannot_be_asked_for(looked_at, wrong):
    with pytest.raises(SpecError, match="Ask for 1 window or more"):
        looked_at(flat(), **wrong)


@pytest.mark.slow
def test_a_grey_master_is_looked_at_too(tmp_path, plan_for):
    import tifffile  # noqa: PLC0415 - this test alone writes a grey file

    from printplan.colour.icc_file import (  # noqa: PLC0415 - the same
        D50_XYZ,
        IccHeader,
        description_element,
        gamma_curve_element,
        text_element,
        write_icc,
        xyz_element,
    )
    from printplan.pixels.master import open_master  # noqa: PLC0415 - the same

    header = IccHeader(version=(2, 4), device_class="mntr", space="GRAY", pcs="XYZ")
    tags = {
        "desc": description_element("Grey"),
        "cprt": text_element("None"),
        "wtpt": xyz_element(D50_XYZ),
        "kTRC": gamma_curve_element(2.2),
    }
    path = tmp_path / "grey.tif"
    pixels = with_noise(6000, 1500)[..., 0]
    tifffile.imwrite(
        path,
        pixels,
        photometric="minisblack",
        iccprofile=write_icc(header, tags),
        metadata=None,
    )
    with open_master(path) as master:
        plan = plan_for(master, width_mm=WIDTH_MM)
        sheet = build_sheet(master, plan)
        places = look_here(sheet, sheet.overview(OVERVIEW_PX), window_px=WINDOW_PX)
        place = told(places, "Most texture in the deepest tones")
        assert share_of(place.box, printed_place(sheet)) > 0.7


# The search itself


@given(
    seed=st.integers(0, 2**16),
    rows=st.integers(1, 24),
    columns=st.integers(1, 24),
    window=st.tuples(st.integers(1, 40), st.integers(1, 40)),
)
@settings(max_examples=60, deadline=None)
def test_the_best_window_has_the_largest_sum(seed, rows, columns, window):
    values = np.random.default_rng(seed).random((rows, columns))
    picture = Box(7, 11, columns, rows)
    windows = Windows(picture, (columns, rows), window)
    box = windows.best(values)
    high, wide = box.height, box.width
    sums = [
        values[top : top + high, left : left + wide].sum()
        for top in range(rows - high + 1)
        for left in range(columns - wide + 1)
    ]
    held = values[windows.slices(box)]
    assert held.shape == (high, wide) == (min(window[1], rows), min(window[0], columns))
    assert held.sum() == pytest.approx(max(sums))


@given(seed=st.integers(0, 2**16), scale=st.floats(0.07, 1.0))
@settings(max_examples=40, deadline=None)
def test_windows_stay_in_the_picture_and_apart_at_any_scale(seed, scale):
    picture = Box(30, 40, 611, 397)
    overview = (round(611 * scale), round(397 * scale))
    values = np.random.default_rng(seed).random(overview[::-1])
    windows = Windows(picture, overview, (90, 60))
    boxes = windows.best_few(values, 6)
    assert len(boxes) == 6
    for box in boxes:
        assert box.common(picture) == box
        part = values[windows.slices(box)]
        assert min(part.shape) >= 1
    for one, other in combinations(boxes, 2):
        # Windows lie on overview pixels, of up to 15 file pixels: their starts are
        # rounded to file pixels, which moves each by half a pixel of 60.
        assert share_of(one, other) <= MOST_SHARED + 0.03


def test_nothing_is_found_in_nothing():
    windows = Windows(Box(0, 0, 50, 40), (50, 40), (10, 10))
    assert windows.best(np.zeros((40, 50))) is None
    assert windows.best_few(np.zeros((40, 50)), 3) == []


def test_another_window_has_to_be_worth_it():
    """What is found beside a window that is taken holds half of what that holds."""
    values = np.zeros((40, 50))
    values[5:15, 5:15] = 1.0
    windows = Windows(Box(0, 0, 50, 40), (50, 40), (10, 10))
    first = windows.best(values)
    assert first == Box(5, 5, 10, 10)
    windows.take(first)
    assert windows.best(values) == first
    values[20:30, 30:40] = LEAST_OF_BEST + 0.01
    assert windows.best(values) == Box(30, 20, 10, 10)
    values[20:30, 30:40] = LEAST_OF_BEST - 0.01
    assert windows.best(values) == first


# Texture


def test_lightness_matches_its_definition():
    # CIE 015:2018, 8.2.1: Y = 0.1842 is L* 50.0; below 216/24389 it is a line.
    to_xyz = xyz_d50_from_linear(NamedSpace.ROMM_RGB)
    light = np.array([0.0, 0.001, 0.184187, 1.0], np.float32)
    linear = np.broadcast_to(light, (3, 1, 4)).astype(np.float32)
    lightness = lightness_of(linear, to_xyz)[0]
    assert lightness == pytest.approx([0.0, 0.9033, 50.0, 100.0], abs=2e-3)


def test_neighbours_of_stripes_differ_by_their_height_one_way():
    stripes = np.tile(np.array([10.0, 14.0], np.float32), (6, 5))
    steps = neighbour_steps(stripes)
    # Across they differ by 4, down by nothing; the last column has no neighbour.
    assert (steps[:, :-1] == 2.0).all()
    assert (steps[:, -1] == 0.0).all()


def test_an_even_picture_has_no_texture():
    to_xyz = xyz_d50_from_linear(NamedSpace.ROMM_RGB)
    texture = texture_of(np.full((3, 20, 30), 0.2, np.float32), to_xyz)
    assert texture.varies.max() < 1e-4
    assert np.ptp(texture.lightness) == 0
