"""Pictures that stay: each is drawn, says what it shows, and says what is true."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from printplan.errors import SpecError
from printplan.pixels.look_here import LookHere, Reason
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet, varied
from printplan.pixels.trials.scan_file import Scan
from printplan.pixels.trials.steps import plain_steps
from printplan.pixels.trials.trial_sheet import TrialSpec, make_trial
from printplan.sizing.boxes import Box
from printplan.spec import RoomSpec, SheetSpec
from printplan.workbook import figures
from printplan.workbook.drawings.maps import Difference
from printplan.workbook.drawings.resolution import (
    draw_resolution,
    enough_from_mm,
    resolution_figure,
)


@pytest.fixture(scope="module")
def sheet(studio, plan_for):
    """A small print of the seed heads on the matte paper."""
    with open_master(studio.scenario.seed_heads) as master:
        yield build_sheet(master, plan_for(master, gain=0.8))


@pytest.fixture(scope="module")
def lit(sheet):
    """The same print in a living room, planned on a usual display."""
    room = RoomSpec(illuminance_lx=150, display_cd_m2=120)
    spec = sheet.plan.spec
    return varied(sheet, type(spec)(size=spec.size, sheet=spec.sheet, room=room))


PICTURES = {
    "resolution": lambda sheet, _: figures.resolution_picture(sheet),
    "as seen": lambda sheet, _: figures.as_seen_picture(sheet),
    "intents": lambda sheet, _: figures.intents_picture(sheet),
    "reach": lambda sheet, _: figures.reach_picture(sheet),
    "tone lost": lambda sheet, _: figures.separation_picture(sheet),
    "colour lost": lambda sheet, _: figures.separation_picture(
        sheet, Difference.CHROMA
    ),
    "places": lambda sheet, _: figures.places_picture(sheet),
    "papers": lambda sheet, book: figures.papers_picture(sheet, book.papers),
    "gamut": lambda sheet, book: figures.gamut_picture(sheet, book.papers),
    "solid": lambda sheet, book: figures.solid_picture(
        figures.paper_gamut(sheet.plan.paper, book.printers[0]), figures.screen_gamut()
    ),
    "light": lambda sheet, _: figures.light_picture(sheet),
    "tone": lambda sheet, _: figures.tone_picture(sheet),
}
IN_WORDS = {
    "resolution": "of its own pixels per inch",
    "as seen": "as seen on Fen Cotton 310 from 250, 500, 1000 mm",
    "intents": "shadow steps stay apart",
    "reach": "from what the paper can hold",
    "tone lost": "detail of tone has merged",
    "colour lost": "detail of colour has merged",
    "places": "1: Farthest from what Fen Cotton 310 can hold",
    "papers": "the best first: Alder Satin 260",
    "gamut": "of the picture's area",
    "solid": "Fen Cotton 310",
    "light": "The print will look",
    "tone": "Its greys are",
}


@pytest.mark.slow
@pytest.mark.parametrize("name", PICTURES)
def test_picture_is_drawn_and_says_what_it_shows(name, lit, studio):
    picture = PICTURES[name](lit, studio.book)
    data = picture.png if hasattr(picture, "png") else picture.jpeg
    assert len(data) > 10_000
    assert IN_WORDS[name] in repr(picture)
    assert picture.width_css_px is None or 300 < picture.width_css_px <= 1100


def test_every_figure_is_offered_and_no_other():
    assert set(figures.__all__) <= set(dir(figures))
    for name in figures.__all__:
        assert callable(getattr(figures, name))
    with pytest.raises(AttributeError, match=r"attribute.*pie_chart"):
        _ = figures.pie_chart


def test_array_is_shown_pixel_by_pixel():
    """Decoded again; JPEG at quality 90 keeps an even area within two codes."""
    dark, light = np.full((90, 120, 3), 40, np.uint8), np.full((90, 120), 0.8)
    picture = figures.pixels_picture({"dark": dark, "light": light}, enlarged=2)
    assert repr(picture) == "Pixels: dark, light."
    shown = np.asarray(Image.open(BytesIO(picture.jpeg)), np.int16)
    is_dark = (abs(shown - 40) <= 2).all(axis=2)
    is_light = (abs(shown - round(0.8 * 255)) <= 2).all(axis=2)
    for found in (is_dark, is_light):
        rows, columns = np.nonzero(found)
        middle = found[np.median(rows).astype(int)]
        assert 232 <= np.count_nonzero(middle) <= 240
        assert 176 <= np.count_nonzero(found[:, int(np.median(columns))]) <= 182


@pytest.mark.parametrize(
    ("panes", "enlarged", "remedy"),
    [
        ({}, 1, "one or more"),
        ({"it": np.zeros((9, 9))}, 0, "from 1 on"),
        ({"it": np.zeros((9, 9, 4))}, 1, "rows, columns"),
        ({"it": np.zeros((9, 9), np.int32)}, 1, "float from 0 to 1"),
    ],
)
def test_array_that_is_no_picture_is_refused(panes, enlarged, remedy):
    with pytest.raises(SpecError) as caught:
        figures.pixels_picture(panes, enlarged=enlarged)
    assert remedy in caught.value.remedy


def test_places_given_are_the_places_drawn(sheet):
    place = LookHere(Box(400, 300, 200, 150), Reason.FINE_DETAIL, "Just here.")
    assert "1: Just here." in repr(figures.places_picture(sheet, [place]))


@pytest.mark.slow
def test_edge_is_the_steepest_of_the_windows(sheet):
    """All over the picture, or in the windows given."""
    every = figures.edge_picture(sheet, distance_mm=400)
    picture = sheet.plan.picture_in_file
    assert "strongest straight edge" in repr(every)
    assert "400 mm" in repr(every) or "no halo" in repr(every)
    flat = Box(picture.left, picture.top + picture.height - 40, 40, 40)
    with pytest.raises(SpecError, match="None of 1 windows"):
        figures.edge_picture(sheet, [flat])


def test_light_needs_a_room(sheet):
    with pytest.raises(SpecError, match="RoomSpec"):
        figures.light_picture(sheet)


def test_distances_are_each_seen_in_a_pane_of_their_own(sheet):
    """The wider picture holds more panes, whatever the distance."""
    one = figures.as_seen_picture(sheet, distances_mm=(300.0,))
    two = figures.as_seen_picture(sheet, distances_mm=(300.0, 600.0))
    assert "from 300 mm" in repr(one)
    assert "from 300, 600 mm" in repr(two)
    assert len(two.jpeg) > 1.3 * len(one.jpeg)


@pytest.mark.slow
def test_trial_tells_its_patches(sheet):
    spec = TrialSpec(sheet=SheetSpec(media_size="A4", feed=sheet.plan.feed.name))
    window = sheet.plan.picture_in_file
    trial = make_trial(sheet, plain_steps(sheet), [window], spec)
    picture = figures.trial_picture(trial)
    assert "210 × 297 mm, 1 patch, A" in repr(picture)
    bare = figures.trial_picture(make_trial(sheet, [], [], spec))
    assert "targets" in repr(bare)


def test_scan_tells_its_size(tmp_path):
    scan = Scan(
        path=tmp_path / "scan.tif",
        linear=np.full((900, 1200), 0.25, np.float32),
        ppi=1200.0,
        profile_name="sRGB",
    )
    words = repr(figures.scan_picture(scan))
    assert "scan.tif, 1200 × 900 px at 1200 ppi" in words


# One arcminute (ISO 8596, acuity 1.0): 25.4 / (ppi · tan(1/60°)) mm; 286.48 ppi at
# 12 inches, so 300 ppi are enough from 291.07 mm on, and 150 from twice that.
@pytest.mark.parametrize(("ppi", "distance_mm"), [(286.48, 304.8), (300, 291.07)])
def test_enough_pixels_are_one_arcminute_each(ppi, distance_mm):
    assert enough_from_mm(ppi) == pytest.approx(distance_mm, rel=1e-4)
    assert enough_from_mm(ppi / 2) == pytest.approx(2 * distance_mm, rel=1e-4)


@pytest.mark.parametrize(("master_ppi", "is_marked"), [(300, True), (3000, False)])
def test_distance_is_marked_where_it_is_on_the_drawing(sheet, master_ppi, is_marked):
    figure = resolution_figure(sheet.plan.picture_size, 300.0, 400.0)
    axes = figure.add_axes((0, 0, 1, 1))
    draw_resolution(master_ppi, 300.0, 400.0, axes)
    marks = [it.get_text() for it in axes.texts]
    assert any("enough from" in it for it in marks) is is_marked
