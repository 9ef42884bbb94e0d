"""Gamuts against published volumes, closed forms and measured print."""

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from printplan.colour.black_point import destination_black_point
from printplan.colour.difference import delta_e_2000
from printplan.colour.gamut import (
    _cmyk_mesh,
    _cube_surface,
    _mesh,
    _rgb_mesh,
    gamut_mesh,
    gamut_volume,
    section_at_hue,
    section_at_lightness,
)
from printplan.colour.gamut_overlap import coverage, picture_coverage, picture_solid
from printplan.colour.gamut_rays import (
    MID_GREY_LAB,
    GamutMesh,
    is_inside,
    ray_crossings,
)
from printplan.colour.icc_file import (
    IccHeader,
    gamma_curve_element,
    localized_element,
    write_icc,
)
from printplan.colour.profiles import profile_from_bytes
from printplan.colour.spaces import (
    named_profile,
    xyz_d50_from_linear,
    xyz_from_lab,
)
from printplan.colour.transforms import WhiteReference, device_to_lab
from printplan.errors import ProfileError, SpecError
from printplan.spec import Intent, NamedSpace

# B. Lindbloom, Information about RGB working spaces: gamut volume in cubic CIELAB
# units under D50; two of the spaces are listed there under their trade names.
PUBLISHED_VOLUME = {
    NamedSpace.SRGB: 832_870,
    NamedSpace.OPRGB: 1_208_631,
    NamedSpace.ROMM_RGB: 2_879_568,
}
GREY = np.array(MID_GREY_LAB)


def distance_to_boundary(mesh, lab):
    """CIELAB distance along the ray from mid grey, above 0 inside and below outside."""
    rays = np.asarray(lab, float).reshape(-1, 3) - GREY
    length = np.linalg.norm(rays, axis=1)
    found = ray_crossings(mesh, rays / length[:, None])
    nearest = np.full(len(rays), np.inf)
    np.minimum.at(nearest, found.ray, np.abs(found.distance - length[found.ray]))
    assert np.isfinite(nearest).all()
    return np.where(is_inside(mesh, rays + GREY), nearest, -nearest)


def shape(points, triangles):
    return GamutMesh(points, triangles, np.empty((len(points), 0)))


def box(low, high):
    """Twelve triangles, each seen under a wide angle."""
    points, triangles = _cube_surface(2)
    return shape(np.add(low, points * np.subtract(high, low)), triangles)


def ball(radius, centre=MID_GREY_LAB):
    points, triangles = _cube_surface(49)
    points = np.tan((2 * points - 1) * np.pi / 4)
    points /= np.linalg.norm(points, axis=1, keepdims=True)
    return shape(centre + radius * points, triangles)


def ring(large, small, count=96):
    """A torus lying round the grey axis, whose middle is outside it."""
    turn = np.arange(count) * 2 * np.pi / count
    around, across = np.meshgrid(turn, turn, indexing="ij")
    out = large + small * np.cos(across)
    points = np.stack(
        [50 + small * np.sin(across), out * np.cos(around), out * np.sin(around)],
        axis=-1,
    ).reshape(-1, 3)
    number = np.arange(count * count).reshape(count, count)
    right, below = np.roll(number, -1, axis=1), np.roll(number, -1, axis=0)
    far = np.roll(below, -1, axis=1)
    triangles = np.concatenate(
        [
            np.stack([number, below, far], axis=-1).reshape(-1, 3),
            np.stack([number, far, right], axis=-1).reshape(-1, 3),
        ]
    )
    return shape(points, triangles)


def joined(first, second):
    return shape(
        np.concatenate([first.vertices_lab, second.vertices_lab]),
        np.concatenate([first.triangles, second.triangles + len(first.vertices_lab)]),
    )


def is_closed(mesh):
    """Every edge is used once in each direction."""
    ends = np.stack([mesh.triangles, np.roll(mesh.triangles, -1, axis=1)], axis=-1)
    forth = np.sort(ends.reshape(-1, 2) @ [len(mesh.vertices_lab), 1])
    back = np.sort(ends.reshape(-1, 2) @ [1, len(mesh.vertices_lab)])
    return np.array_equal(forth, back) and (np.diff(forth) > 0).all()


def area(line):
    """Above 0 if the line turns counterclockwise."""
    (x, y), (next_x, next_y) = line[:-1].T, line[1:].T
    return float((x * next_y - next_x * y).sum() / 2)


@pytest.fixture(scope="module", params=list(NamedSpace))
def space(request):
    return request.param


@pytest.fixture(scope="module")
def press(fogra39):
    return gamut_mesh(fogra39)


@pytest.fixture(scope="module")
def colours():
    rng = np.random.default_rng(31)
    return rng.uniform([0, -110, -110], [100, 110, 110], (20_000, 3))


# Volumes.


def test_working_space_volume_is_the_published_one(space):
    volume = gamut_volume(gamut_mesh(named_profile(space)))
    # The table's own mesh is finite too; ±0.1 % covers both.
    assert volume == pytest.approx(PUBLISHED_VOLUME[space], rel=1e-3)


def test_press_volume_is_the_recorded_one(press):
    # Regression: 404,016 was computed once by an earlier program of ours.
    assert gamut_volume(press) == pytest.approx(404_016, rel=1e-3)


@pytest.mark.slow
def test_press_boundary_is_where_the_measured_patches_are(press):
    """1617 printed and measured patches; see tests/data/README.md."""
    table = np.genfromtxt(
        Path(__file__).parent / "data" / "fogra39l.csv", delimiter=",", skip_header=2
    )
    measured = table[:, 4:]
    outside = measured[distance_to_boundary(press, measured) < -0.2]
    nearest = [delta_e_2000(press.vertices_lab, colour).min() for colour in outside]
    # The profile itself is up to 0.7 dE00 from its patches; vertices lie 1 apart.
    assert len(outside) < 0.1 * len(measured)
    assert max(nearest) <= 1
    # Both hulls are too large in the same way, so they can be compared.
    ours, theirs = (
        ConvexHull(points).volume for points in (press.vertices_lab, measured)
    )
    assert ours == pytest.approx(theirs, rel=0.02)
    # And a hull holds all of what it is drawn round.
    assert gamut_volume(press) < ours


def test_volume_of_an_even_map_of_the_cube_is_its_determinant():
    matrix = np.array([[60, 10, 5], [-20, 70, 0], [5, -15, 80.0]])
    for turned in (matrix, matrix[:, ::-1]):
        mesh = _rgb_mesh(
            lambda device, turned=turned: GREY + (device - 0.5) @ turned, 5
        )
        assert gamut_volume(mesh) == pytest.approx(abs(np.linalg.det(matrix)))


def test_volume_of_an_even_map_of_four_inks_is_that_of_a_zonotope():
    # McMullen (1984): a zonotope's volume is the sum of |det| over all triples of
    # its generators.
    inks = np.array([[30, -35, -45], [45, 70, 0], [8, -5, 85], [70, 3, 4.0]])
    volume = sum(abs(np.linalg.det(np.delete(inks, ink, axis=0))) for ink in range(4))
    mesh = _cmyk_mesh(lambda device: GREY + (device - 0.5) @ inks, 33)
    # Edges between rays are cut.
    assert gamut_volume(mesh) == pytest.approx(volume, rel=2e-3)
    assert gamut_volume(mesh) <= volume
    # And the ink of each vertex is the one that makes its colour.
    mixed = GREY + (mesh.device - 0.5) @ inks
    assert np.abs(mixed - mesh.vertices_lab).max() <= 1e-5


# Meshes.


def test_mesh_is_closed_and_its_device_colours_make_it(space):
    profile = named_profile(space)
    mesh = gamut_mesh(profile)
    assert is_closed(mesh)
    codes = np.rint(mesh.device * 65535).astype(np.uint16)[None]
    lab = device_to_lab(codes, profile, intent=Intent.ICC_ABSOLUTE)[0]
    assert np.array_equal(lab, mesh.vertices_lab)


def test_press_mesh_is_closed_and_its_ink_makes_it(press, fogra39):
    assert is_closed(press)
    codes = np.rint(press.device * 65535).astype(np.uint16)[None]
    lab = device_to_lab(codes, fogra39, intent=Intent.ICC_ABSOLUTE)[0]
    # Ink is mixed evenly over a triangle of 1/32 of full ink, colour nearly so.
    assert delta_e_2000(lab, press.vertices_lab).max() <= 0.5


def test_mesh_of_a_working_space_is_the_same_against_either_white(space):
    absolute, relative = (
        gamut_mesh(named_profile(space), white=white, steps=9)
        for white in WhiteReference
    )
    assert np.abs(absolute.vertices_lab - relative.vertices_lab).max() <= 1e-3


def test_mesh_of_a_paper_reaches_its_white_and_its_black(paper_profiles):
    for profile in paper_profiles.values():
        relative = gamut_mesh(profile, white=WhiteReference.PAPER)
        lightness = relative.vertices_lab[:, 0]
        assert lightness.max() == pytest.approx(100, abs=0.05)
        black_l = destination_black_point(profile, Intent.MEDIA_RELATIVE)[0]
        assert lightness.min() == pytest.approx(black_l, abs=0.2)
        absolute = gamut_mesh(profile)
        assert absolute.vertices_lab[:, 0].max() < 99
        assert gamut_volume(absolute) < gamut_volume(relative)


def test_mesh_holds_every_colour_of_its_device(paper_profiles, press, fogra39):
    rng = np.random.default_rng(33)
    for profile in paper_profiles.values():
        codes = rng.integers(0, 65536, (1, 20_000, 3)).astype(np.uint16)
        lab = device_to_lab(codes, profile, intent=Intent.ICC_ABSOLUTE)
        assert distance_to_boundary(gamut_mesh(profile), lab).min() >= -0.05
    codes = rng.integers(0, 65536, (1, 20_000, 4)).astype(np.uint16)
    lab = device_to_lab(codes, fogra39, intent=Intent.ICC_ABSOLUTE)
    # Edges between rays are cut.
    assert distance_to_boundary(press, lab).min() >= -0.6
    # Paper and the solids of one or two inks are tips of the gamut, and are kept.
    one, two = [[0, 0, 1], [0, 1, 0], [1, 0, 0]], [[0, 1, 1], [1, 0, 1], [1, 1, 0]]
    solids = np.insert([[0, 0, 0], *one, *two], 3, 0, axis=1)
    codes = (solids * 65535).astype(np.uint16)[None]
    lab = device_to_lab(codes, fogra39, intent=Intent.ICC_ABSOLUTE)
    assert np.abs(distance_to_boundary(press, lab)).max() <= 0.05


def test_mesh_is_the_same_each_time(fogra39):
    first = _mesh.__wrapped__(fogra39, Intent.ICC_ABSOLUTE, 9)
    again = _mesh.__wrapped__(fogra39, Intent.ICC_ABSOLUTE, 9)
    for name in ("vertices_lab", "triangles", "device"):
        assert np.array_equal(getattr(first, name), getattr(again, name))
        assert not getattr(first, name).flags.writeable


# Colours inside.


def test_is_inside_agrees_with_the_matrix(space, colours):
    """A colour is in a working space if its linear light is from 0 to 1."""
    mesh = gamut_mesh(named_profile(space))
    linear = np.linalg.solve(xyz_d50_from_linear(space), xyz_from_lab(colours).T).T
    truth = ((linear >= 0) & (linear <= 1)).all(axis=1)
    away = np.abs(distance_to_boundary(mesh, colours)) > 0.5
    inside = is_inside(mesh, colours)
    assert away.mean() > 0.95
    assert 0.1 < truth.mean() < 0.5
    # Within half a unit of the boundary the mesh's chords decide.
    assert np.array_equal(inside[away], truth[away])


def test_is_inside_does_not_depend_on_where_rays_start(colours):
    mesh = gamut_mesh(named_profile(NamedSpace.SRGB))
    usual = is_inside(mesh, colours)
    for centre in ((50.0, 0.0, 0.0), (30.0, 20.0, -10.0), (50.0, 300.0, 40.0)):
        assert np.array_equal(usual, is_inside(mesh, colours, centre_lab=centre))


def test_is_inside_knows_a_ring_from_its_hole(colours):
    mesh = ring(60, 25)
    chroma = np.hypot(colours[:, 1], colours[:, 2])
    from_core = np.hypot(chroma - 60, colours[:, 0] - 50)
    clear = np.abs(from_core - 25) > 0.1  # The mesh's chords are 0.06 deep.
    assert np.array_equal(is_inside(mesh, colours)[clear], (from_core < 25)[clear])
    assert not is_inside(mesh, GREY)


def test_rays_slip_through_nowhere():
    """Rays at vertices, along edges and along the axes meet a closed mesh once."""
    mesh = gamut_mesh(named_profile(NamedSpace.SRGB), steps=9)
    middles = mesh.vertices_lab[mesh.triangles[:, :2]].mean(axis=1)
    rays = np.concatenate([mesh.vertices_lab, middles]) - GREY
    rays = np.concatenate([rays, np.eye(3), -np.eye(3)])
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    found = ray_crossings(mesh, rays)
    assert np.array_equal(found.ray, np.arange(len(rays)))
    assert (found.way == 1).all()
    assert np.abs(distance_to_boundary(mesh, mesh.vertices_lab)).max() <= 1e-5


def test_distance_to_a_ball_is_the_law_of_cosines(colours):
    # From a point beside the centre, in a direction at angle t, the boundary is at
    # d·cos t + √(r² - d²·sin² t).
    radius, aside = 45.0, np.array([0.0, 12.0, 5.0])
    mesh = ball(radius, centre=GREY + aside)
    rays = colours - GREY
    length = np.linalg.norm(rays, axis=1)
    along = rays @ aside / length
    reach = along + np.sqrt(radius**2 - (aside @ aside - along**2))
    distance = distance_to_boundary(mesh, colours)
    # Chords of 1/48 of a right angle are 0.01 short in the middle.
    assert np.abs(distance - (reach - length)).max() <= 0.02


def test_what_is_no_colour_is_refused():
    with pytest.raises(SpecError, match="last axis has length 3"):
        is_inside(ball(20), np.zeros((3, 2)))


# Coverage.

COVERAGE_REL = 2e-3
"""Of 55,296 rays on flat faces with sharp edges; curved gamuts come far closer."""


def test_coverage_of_boxes():
    first, second = box([10, -50, -50], [90, 50, 50]), box([30, -20, -90], [99, 80, 30])
    found = coverage(first, second)
    # Lengths in common: 60 by 70 by 80.
    assert found.intersection_volume == pytest.approx(60 * 70 * 80, rel=COVERAGE_REL)
    assert found.share == pytest.approx(60 * 70 * 80 / 800_000, rel=COVERAGE_REL)
    assert found.error_share <= COVERAGE_REL


def test_coverage_of_balls():
    # Two balls of radius r whose centres are d apart share π(4r + d)(2r - d)²/12.
    radius, apart = 40.0, 30.0
    first = ball(radius, centre=(50.0, -apart / 2, 0))
    second = ball(radius, centre=(50.0, apart / 2, 0))
    lens = np.pi * (4 * radius + apart) * (2 * radius - apart) ** 2 / 12
    found = coverage(first, second)
    # The balls' chords take 0.1 % of their volume.
    assert found.intersection_volume == pytest.approx(lens, rel=COVERAGE_REL)
    whole = 4 / 3 * np.pi * radius**3
    assert found.share == pytest.approx(lens / whole, rel=COVERAGE_REL)
    assert found.error_share <= 2e-4


def test_coverage_where_rays_start_outside():
    """A ring and two boxes apart, one of them beyond the ring."""
    whole_ring = ring(60, 20)
    half_space = box([-10, 0, -200], [110, 200, 200])
    found = coverage(whole_ring, half_space)
    # Pappus: 2π²·R·r². The chords take 0.2 %.
    assert found.share == pytest.approx(0.5, rel=COVERAGE_REL)
    assert found.intersection_volume == pytest.approx(
        np.pi**2 * 60 * 20**2, rel=2 * COVERAGE_REL
    )
    apart = joined(box([40, -10, -10], [60, 10, 10]), box([40, 70, -10], [60, 90, 10]))
    half = coverage(apart, box([0, -50, -50], [100, 50, 50]))
    # A distant box is met by fewer rays.
    assert half.share == pytest.approx(0.5, rel=0.02)
    assert half.error_share <= 0.02


def test_small_space_is_covered_by_the_large_one():
    small, large = (
        gamut_mesh(named_profile(space))
        for space in (NamedSpace.SRGB, NamedSpace.ROMM_RGB)
    )
    assert coverage(small, large).share == pytest.approx(1, abs=1e-6)
    back = coverage(large, small)
    assert back.share == pytest.approx(832_870 / 2_879_568, rel=1e-3)
    assert back.error_share <= 1e-3
    nothing = shape(large.vertices_lab, large.triangles[:, ::-1])
    with pytest.raises(SpecError, match="counterclockwise"):
        coverage(nothing, small)


# Sections.


def test_slices_add_up_to_the_volume(space):
    mesh = gamut_mesh(named_profile(space))
    levels = np.linspace(0, 100, 101)
    areas = [sum(map(area, section_at_lightness(mesh, level))) for level in levels]
    assert min(areas) >= 0
    # Simpson's and the trapezium's rule agree to 1e-3 with 1 L* between slices.
    assert np.trapezoid(areas, levels) == pytest.approx(gamut_volume(mesh), rel=1e-3)


def test_slice_of_a_ball_is_a_circle():
    mesh = ball(40)
    (circle,) = section_at_lightness(mesh, 50 + 24)
    assert np.array_equal(circle[0], circle[-1])
    # √(40² - 24²) = 32; chords are 0.01 short.
    assert np.abs(np.hypot(*circle.T) - 32).max() <= 0.03
    assert area(circle) == pytest.approx(np.pi * 32**2, rel=2e-3)
    assert section_at_lightness(mesh, 95) == ()


def test_slice_of_a_ring_is_two_circles_and_the_hole_turns_back():
    outer, inner = section_at_lightness(ring(60, 20), 50)
    assert np.abs(np.hypot(*outer.T) - 80).max() <= 0.1
    assert np.abs(np.hypot(*inner.T) - 40).max() <= 0.1
    assert area(outer) > 0 > area(inner)


def test_leaf_of_a_ball_is_a_half_circle():
    for hue_deg in (0, 30, 137, 270):
        (leaf,) = section_at_hue(ball(40), hue_deg)
        assert np.abs(np.hypot(leaf[:, 0], leaf[:, 1] - 50) - 40).max() <= 0.03
        assert leaf[[0, -1]] == pytest.approx(np.array([[0, 10], [0, 90]]), abs=0.03)
        assert (leaf[1:-1, 0] > 0).all()


def test_leaf_of_a_ring_is_an_island():
    (leaf,) = section_at_hue(ring(60, 20), 200)
    assert np.array_equal(leaf[0], leaf[-1])
    assert np.abs(np.hypot(leaf[:, 0] - 60, leaf[:, 1] - 50) - 20).max() <= 0.1


def test_leaf_reaches_the_primary(space):
    """Cut at the hue of pure red, the leaf's tip is pure red."""
    profile = named_profile(space)
    code = np.array([[[65535, 0, 0]]], np.uint16)
    lightness, a, b = device_to_lab(code, profile, intent=Intent.ICC_ABSOLUTE)[0, 0]
    (leaf,) = section_at_hue(gamut_mesh(profile), np.degrees(np.arctan2(b, a)))
    gap = np.hypot(leaf[:, 0] - np.hypot(a, b), leaf[:, 1] - lightness)
    assert gap.min() <= 0.01


# Pictures.


def test_picture_solid_of_a_filled_box_is_the_box():
    rng = np.random.default_rng(41)
    colours = rng.uniform([20, -20, 0], [60, 20, 40], (200, 300, 3))
    solid = picture_solid(colours, edge=4, kept_share=1)
    # 10 × 10 × 10 cells of 60 colours each; none is likely to be missed.
    assert solid.volume == 40**3
    assert solid.share.sum() == pytest.approx(1)
    assert solid.centres_lab.min(axis=0) == pytest.approx([22, -18, 2])


def test_picture_solid_of_a_ball_lies_between_two_balls():
    rng = np.random.default_rng(42)
    points = rng.normal(size=(300_000, 3))
    points *= (
        30
        * (rng.random((300_000, 1)) ** (1 / 3))
        / np.linalg.norm(points, axis=1, keepdims=True)
    )
    solid = picture_solid(GREY + points, edge=3, kept_share=1)
    small, large = (4 / 3 * np.pi * radius**3 for radius in (30, 30 + 3 * 3**0.5))
    assert small * 0.999 < solid.volume < large


def test_picture_solid_leaves_stray_colours_out():
    rng = np.random.default_rng(43)
    plain = rng.uniform([40, 0, 0], [44, 4, 4], (99_950, 3))
    stray = rng.uniform([0, -80, -80], [100, 80, 80], (50, 3))
    solid = picture_solid(np.concatenate([plain, stray]), edge=4)
    assert len(solid.share) == 1
    assert solid.share[0] == pytest.approx(0.9995, abs=1e-4)


def test_picture_coverage_counts_variety_and_area():
    """Nine tenths of a picture in one cell inside, a tenth in nine cells outside."""
    inside = np.full((900, 3), 50.0)
    outside = np.array([50.0, 0, 60]) + np.repeat(np.arange(9), 12)[:100, None] * 4
    solid = picture_solid(np.concatenate([inside * [1, 0, 0], outside]), kept_share=1)
    found = picture_coverage(solid, ball(40))
    assert found.colour_share == pytest.approx(0.9)
    assert found.volume_share == pytest.approx(1 / 10)


# Refusals.


def test_senseless_wishes_are_refused(fogra39):
    with pytest.raises(SpecError, match="33 is fine enough"):
        gamut_mesh(fogra39, steps=2)
    with pytest.raises(SpecError, match="colours of a picture"):
        picture_solid(np.empty((0, 3)))
    with pytest.raises(SpecError, match="colours of a picture"):
        picture_solid(np.full((4, 3), np.nan))
    with pytest.raises(SpecError, match=r"edge from 0\.5 to 20"):
        picture_solid(np.ones((4, 3)), edge=0)


def test_grey_profile_has_no_gamut():
    header = IccHeader(version=(2, 4), device_class="mntr", space="GRAY", pcs="XYZ")
    tags = {"desc": localized_element("Grey"), "kTRC": gamma_curve_element(2.2)}
    grey = profile_from_bytes(write_icc(header, tags), where="test")
    with pytest.raises(ProfileError, match="RGB or CMYK"):
        gamut_mesh(grey)


def test_inks_that_do_not_surround_mid_grey_are_refused():
    inks = np.eye(4)[:, :3] * 10
    with pytest.raises(ProfileError, match="surround mid grey"):
        _cmyk_mesh(lambda device: device @ inks, 9)
