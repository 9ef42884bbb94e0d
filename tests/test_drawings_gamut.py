"""Gamuts are drawn where they are, and their solid reaches the page in binary."""

import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from printplan.colour.gamut import gamut_mesh
from printplan.colour.gamut_overlap import picture_solid
from printplan.colour.spaces import named_profile
from printplan.errors import SpecError
from printplan.spec import NamedSpace
from printplan.workbook.drawings.gamut import (
    HALF_SLAB_L,
    NamedGamut,
    coverage_words,
    draw_leaf,
    draw_slice,
)
from printplan.workbook.drawings.gamut_solid import (
    VIEWS_DEG,
    GamutSolid,
    axis_reach,
    draw_solid,
    frame_lines,
    mesh_buffers,
)
from printplan.workbook.drawings.page import LINES

# Lindbloom's table of working space gamuts, thousand cubic CIELAB units: sRGB 832,870
# and opRGB primaries 1,208,631, printed to the unit; the mesh is within 0.1 %.
SRGB_THOUSANDS, OPRGB_THOUSANDS = 832.870, 1208.631


@pytest.fixture(scope="module")
def srgb():
    return NamedGamut("sRGB", gamut_mesh(named_profile(NamedSpace.SRGB)))


@pytest.fixture(scope="module")
def oprgb():
    return NamedGamut("opRGB", gamut_mesh(named_profile(NamedSpace.OPRGB)))


@pytest.fixture
def axes():
    return Figure().add_subplot()


def volume_in(words):
    return float(re.search(r"([\d,]+) thousand", words)[1].replace(",", ""))


# Slices and leaves


def test_the_legend_names_published_volumes(srgb, oprgb):
    assert volume_in(srgb.words) == pytest.approx(SRGB_THOUSANDS, rel=1.5e-3)
    assert volume_in(oprgb.words) == pytest.approx(OPRGB_THOUSANDS, rel=1.5e-3)
    assert "cubic CIELAB units" in srgb.words


def test_a_slice_has_axes_in_units_and_a_line_style_for_each_gamut(axes, srgb, oprgb):
    assert draw_slice([srgb, oprgb], 50.0, axes) is axes
    assert axes.get_xlabel() == "a* (CIELAB units)"
    assert axes.get_ylabel() == "b* (CIELAB units)"
    outlines = [line for line in axes.lines if len(line.get_xdata()) > 2]
    assert [line.get_color() for line in outlines] == [
        style.colour for style in LINES[:2]
    ]
    assert outlines[0].get_linestyle() != outlines[1].get_linestyle()
    assert outlines[1].get_label() == oprgb.words


def test_every_gamut_gets_a_line_or_is_refused(axes, srgb):
    draw_slice([srgb] * len(LINES), 50.0, axes)
    outlines = [line for line in axes.lines if len(line.get_xdata()) > 2]
    assert len({line.get_color() for line in outlines}) == len(LINES) == 6
    with pytest.raises(SpecError, match="Compare up to 6"):
        draw_slice([srgb] * (len(LINES) + 1), 50.0, axes)


def test_a_slice_goes_through_the_corner_of_its_lightness(axes, srgb):
    # CSS Color Module Level 4 (W3C): sRGB red is Lab 54.29, 80.80, 69.89 under D50.
    draw_slice([srgb], 54.29, axes)
    outline = np.column_stack([axes.lines[0].get_xdata(), axes.lines[0].get_ydata()])
    assert np.linalg.norm(outline - [80.80, 69.89], axis=1).min() < 1.0


def test_a_leaf_goes_through_the_corner_of_its_hue(axes, srgb):
    hue_deg = float(np.degrees(np.arctan2(69.89, 80.80)))
    draw_leaf([srgb], hue_deg, axes)
    assert axes.get_ylabel() == "L*"
    outline = np.column_stack([axes.lines[0].get_xdata(), axes.lines[0].get_ydata()])
    corner = [np.hypot(80.80, 69.89), 54.29]
    assert np.linalg.norm(outline - corner, axis=1).min() < 1.0


def test_all_slices_of_a_comparison_have_one_scale(oprgb):
    limits = {
        draw_slice([oprgb], level, Figure().add_subplot()).get_xlim()
        for level in (20.0, 50.0, 90.0)
    }
    assert len(limits) == 1


def test_the_pictures_colours_lie_in_their_own_cell_and_colour(axes, srgb):
    picture = picture_solid(np.full((100, 3), (60.0, 21.0, 31.0)), edge=4.0)
    draw_slice([srgb], 60.0, axes, picture)
    left, right, low, high = axes.images[0].get_extent()
    assert (left, right, low, high) == (20.0, 24.0, 28.0, 32.0)
    red, green, blue, _ = axes.images[0].get_array()[0, 0]
    assert red > green > blue


def test_a_slice_shows_only_the_picture_near_its_lightness(axes, srgb):
    picture = picture_solid(np.full((100, 3), (60.0, 21.0, 31.0)), edge=4.0)
    draw_slice([srgb], 60.0 + HALF_SLAB_L + 5, axes, picture)
    assert len(axes.images) == 0


def test_a_leaf_shows_only_the_picture_of_its_hue(srgb):
    picture = picture_solid(np.full((100, 3), (60.0, 0.0, 50.0)), edge=4.0)
    shown = draw_leaf([srgb], 90.0, Figure().add_subplot(), picture)
    left, right, low, high = shown.images[0].get_extent()
    assert left <= 50.0 <= right
    assert low <= 60.0 <= high
    assert len(draw_leaf([srgb], 270.0, Figure().add_subplot(), picture).images) == 0


def test_coverage_in_words_agrees_with_published_volumes(srgb, oprgb):
    """The space of smaller primaries lies inside: its share is the volumes' ratio."""
    words = coverage_words([oprgb, srgb])
    share = f"{SRGB_THOUSANDS / OPRGB_THOUSANDS:.0%}"
    assert words == [f"opRGB holds 100% of sRGB's volume; the reverse is {share}."]


def test_the_picture_is_covered_where_it_is_inside(srgb):
    inside = np.full((300, 3), (50.0, 0.0, 0.0))
    outside = np.full((100, 3), (50.0, -120.0, 0.0))
    picture = picture_solid(np.concatenate([inside, outside]))
    (sentence,) = coverage_words([srgb], picture)
    assert sentence == "sRGB holds 75% of the picture's area and 50% of its colours."


# Frame and solid


def test_frame_lines_are_rings_of_lightness_and_ribs_of_hue(srgb):
    rings, ribs = [], []
    for line in frame_lines(srgb.mesh):
        (rings if np.ptp(line[:, 0]) < 1e-9 else ribs).append(line)
    assert {round(ring[0, 0]) for ring in rings} == set(range(10, 100, 10))
    for rib in ribs:
        chroma = np.hypot(rib[:, 1], rib[:, 2])
        hue_deg = np.degrees(np.arctan2(rib[:, 2], rib[:, 1]))[chroma > 1]
        off = (hue_deg + 15) % 30 - 15
        assert np.abs(off).max() < 1e-6
    assert len(ribs) >= 12


def test_the_axes_stand_out_of_both_gamuts(srgb, oprgb):
    # CSS Color 4: sRGB blue has b* = -112.03, the farthest of its corners.
    assert axis_reach([srgb.mesh]) == 120
    assert axis_reach([srgb.mesh, oprgb.mesh]) >= 120


def test_buffers_hold_the_mesh_and_the_frame(srgb, oprgb):
    points, corners, colours, line_points, lengths = mesh_buffers(srgb, oprgb)
    vertices = np.frombuffer(points, "<f4").reshape(-1, 3)
    assert np.abs(vertices - srgb.mesh.vertices_lab).max() < 1e-4
    triangles = np.frombuffer(corners, "<u4").reshape(-1, 3)
    assert (triangles == srgb.mesh.triangles).all()
    # The surface of the sRGB cube in its own colours: device values themselves.
    shown = np.frombuffer(colours, np.uint8).reshape(-1, 3)
    assert np.abs(shown - srgb.mesh.device * 255).max() < 3
    lines = frame_lines(oprgb.mesh)
    assert np.frombuffer(lengths, "<u4").tolist() == [len(line) for line in lines]
    assert len(np.frombuffer(line_points, "<f4")) == 3 * sum(map(len, lines))


def test_without_a_frame_there_are_no_lines(srgb):
    *_, line_points, lengths = mesh_buffers(srgb, None)
    assert (line_points, lengths) == (b"", b"")
    solid = GamutSolid(srgb)
    assert "Wireframe" not in solid.legend
    solid.close()


@pytest.fixture
def solid(srgb, oprgb):
    solid = GamutSolid(srgb, oprgb)
    yield solid
    solid.close()


def test_a_view_that_asks_gets_the_mesh_and_its_own_question_back(
    solid, srgb, oprgb, monkeypatch
):
    sent = []
    monkeypatch.setattr(solid, "send", lambda *message: sent.append(message))
    solid._handle_custom_msg({"kind": "solid", "asked": "view-7"}, [])
    solid._handle_custom_msg({"kind": "other"}, [])
    ((content, buffers),) = sent
    assert content == {"kind": "solid", "asked": "view-7"}
    assert buffers == list(mesh_buffers(srgb, oprgb))


def test_the_mesh_is_never_saved_with_the_notebook(solid):
    """What is kept is the script, the words and the reach of the axes."""
    state = solid.get_state()
    code = {"_esm", "_css"}
    rest = {name: value for name, value in state.items() if name not in code}
    assert sum(len(str(value)) for value in rest.values()) < 2000
    assert len(state["_esm"]) + len(state["_css"]) < 20_000


def test_the_solid_says_what_it_shows_and_which_keys_turn_it(solid):
    for word in ("sRGB", "opRGB", "L*", "a*", "b*", "Arrow keys", "plus and minus"):
        assert word in solid.description
    assert solid.legend.startswith("Solid   sRGB")


def test_the_script_needs_nothing_from_outside(solid):
    state = solid.get_state()
    for text in (state["_esm"], state["_css"]):
        assert "http" not in text
        assert "@import" not in text
    brought = r"^import |\bimport\(|\brequire\("
    assert re.search(brought, state["_esm"], re.MULTILINE) is None


def test_the_script_is_reached_by_keyboard_and_heard_by_no_one_else(solid):
    script, style = solid.get_state()["_esm"], solid.get_state()["_css"]
    for key in ("ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown", '"+"', '"-"'):
        assert key in script
    assert "tabIndex = 0" in script
    assert '"data-lm-suppress-shortcuts", "true"' in script
    assert '"aria-label"' in script
    assert ":focus" in style
    assert "var(--jp-ui-font-color1" in style


def test_a_solid_is_drawn_without_a_browser(srgb, oprgb):
    axes = Figure().add_subplot(projection="3d")
    assert draw_solid(srgb, axes, oprgb) is axes
    assert axes.get_zlabel() == "L*"
    assert axes.get_xlabel() == "a* (CIELAB units)"
    (surface,) = axes.collections
    assert len(surface.get_facecolor()) == len(srgb.mesh.triangles)


@pytest.mark.slow
def test_the_side_of_the_frame_behind_the_solid_is_faint(srgb, oprgb):
    """Seen from either side, the gamut that is larger there stands in front."""
    small = NamedGamut(
        "small",
        replace(srgb.mesh, vertices_lab=50 + (srgb.mesh.vertices_lab - 50) * 0.02),
    )
    axes = Figure().add_subplot(projection="3d")
    draw_solid(small, axes, oprgb, view_deg=VIEWS_DEG[0])
    bold = [line for line in axes.lines if line.get_alpha() == 1.0]
    drawn = sum(np.isfinite(line.get_data_3d()[0]).sum() for line in bold)
    everything = sum(map(len, frame_lines(oprgb.mesh)))
    # Next to nothing is hidden by a solid of a few units.
    assert drawn > 0.97 * everything
    axes = Figure().add_subplot(projection="3d")
    draw_solid(oprgb, axes, srgb, view_deg=VIEWS_DEG[0])
    bold = [line for line in axes.lines if line.get_alpha() == 1.0]
    drawn = sum(np.isfinite(line.get_data_3d()[0]).sum() for line in bold)
    # A frame inside the solid is seen only where the two surfaces meet.
    assert drawn < 0.35 * sum(map(len, frame_lines(srgb.mesh)))
