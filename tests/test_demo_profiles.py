"""The invented papers' profiles are sound output profiles, as LittleCMS sees them."""

import subprocess
import sys
from hashlib import sha256
from io import BytesIO

import colour
import numpy as np
import pytest
from PIL import ImageCms

from printplan.colour.icc_file import D50_XYZ, read_icc, read_numbers, write_icc
from printplan.colour.profiles import open_profile, profile_from_bytes
from printplan.colour.spaces import lab_from_xyz, named_profile, xyz_from_lab
from printplan.colour.transforms import (
    device_to_lab,
    lab_to_device,
    lcms_convert,
)
from printplan.demo.inks import (
    INKED_PAPERS,
    PerceptualBlack,
    device_xyz,
    make_ink_model,
)
from printplan.demo.inversion import difference_axes, nearest_device, table_lab
from printplan.demo.profile_writer import write_profile
from printplan.demo.scenario import PRINTER_NAME
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

PCS_INTENTS = (Intent.PERCEPTUAL, Intent.MEDIA_RELATIVE, Intent.SATURATION)


@pytest.fixture(scope="module", params=INKED_PAPERS, ids=lambda it: it.name)
def paper(request):
    return request.param


@pytest.fixture
def profile(paper, studio):
    return open_profile(studio.scenario.profiles[INKED_PAPERS.index(paper)])


def delta_e(first, second):
    return colour.delta_E(first, second, method="CIE 2000")


def printed(lab, profile, intent=Intent.MEDIA_RELATIVE):
    """Colours that come out, relative to the paper's white."""
    device = lab_to_device(np.asarray(lab, float)[None], profile, intent=intent)
    return device_to_lab(device, profile, intent=Intent.MEDIA_RELATIVE)[0]


def neutral(levels):
    return np.stack([levels, np.zeros_like(levels), np.zeros_like(levels)], axis=-1)


def some_device(count):
    rng = np.random.default_rng(11)
    return rng.integers(0, 65536, (1, count, 3), np.uint16)


def is_v4(paper):
    return paper.perceptual_black is PerceptualBlack.REFERENCE


def test_pillow_reads_an_output_profile_for_all_intents(profile, paper):
    opened = ImageCms.ImageCmsProfile(BytesIO(profile.data))
    facts = opened.profile
    assert facts.version == pytest.approx(4.4 if is_v4(paper) else 2.4)
    assert facts.device_class == "prtr"
    assert (facts.xcolor_space.strip(), facts.connection_space.strip()) == (
        "RGB",
        "Lab",
    )
    assert facts.profile_description == f"{paper.name}, {PRINTER_NAME} (invented)"
    for intent in ImageCms.Intent:
        for direction in ImageCms.Direction.INPUT, ImageCms.Direction.OUTPUT:
            assert ImageCms.isIntentSupported(opened, intent, direction) == 1


def test_profile_has_every_tag_that_its_version_asks_for(profile, paper):
    # ICC.1:2001-04, 6.3.3.2, colour output profiles; ICC.1:2022, 8.2 and 8.5. Colours
    # are under D50, so neither asks for a chromatic adaptation.
    tags = read_icc(profile.data, where="test").tags
    tables = {f"{way}{number}" for way in ("A2B", "B2A") for number in range(3)}
    assert tables | {"desc", "cprt", "wtpt", "gamt"} <= set(tags)
    for name in tables:
        kind, (inputs, outputs, points) = tags[name][:4], tags[name][8:11]
        if is_v4(paper):
            # ICC.1:2022, 10.12.1: where the grid begins, whose points come first.
            points = tags[name][int.from_bytes(tags[name][24:28], "big")]
        forms = (b"mAB ", b"mBA ") if is_v4(paper) else (b"mft2", b"mft2")
        assert kind == forms[name.startswith("B2A")]
        assert (inputs, outputs) == (3, 3)
        assert points == (17 if name.startswith("A2B") else 33)
    assert len({tags[f"B2A{number}"] for number in range(3)}) == 3


def test_colours_in_reach_come_back(profile):
    # Our own limits; LittleCMS computes both ways, colour-science the difference.
    lab = device_to_lab(some_device(30_000), profile, intent=Intent.MEDIA_RELATIVE)[0]
    error = delta_e(lab, printed(lab, profile))
    assert error.mean() <= 0.1
    assert error.max() <= 2.0


def test_table_says_what_the_ink_model_says(profile, paper):
    device = some_device(5000)
    lab = device_to_lab(device, profile, intent=Intent.ICC_ABSOLUTE)[0]
    xyz = device_xyz(make_ink_model(paper), device[0] / 65535)
    error = delta_e(lab, lab_from_xyz(xyz))
    # Seventeen points an axis do not follow every bend, least in the darks.
    assert error.mean() <= 0.1
    assert error.max() <= 2.0


def test_white_point_is_the_paper(profile, paper):
    tags = read_icc(profile.data, where="test").tags
    white = device_xyz(make_ink_model(paper), np.ones(3))
    assert read_numbers(tags["wtpt"]) == pytest.approx(white, abs=1e-5)
    bare = np.full((1, 1, 3), 65535, np.uint16)
    absolute = device_to_lab(bare, profile, intent=Intent.ICC_ABSOLUTE)
    assert absolute[0, 0] == pytest.approx(lab_from_xyz(white), abs=0.01)
    relative = device_to_lab(bare, profile, intent=Intent.MEDIA_RELATIVE)
    assert relative[0, 0] == pytest.approx([100, 0, 0], abs=1e-4)


@pytest.mark.parametrize("intent", PCS_INTENTS)
@pytest.mark.parametrize("off", [-0.005, 0.0, 0.005])
def test_white_leaves_the_paper_bare(profile, intent, off):
    lab = np.array([[[100.0, off, -off]]])
    assert (lab_to_device(lab, profile, intent=intent) == 65535).all()


@pytest.mark.parametrize("intent", PCS_INTENTS)
def test_white_of_a_master_leaves_the_paper_bare(profile, intent):
    device = lcms_convert(
        np.full((1, 1, 3), 65535, np.uint16),
        named_profile(NamedSpace.ROMM_RGB),
        profile,
        intent=intent,
        black_point_compensation=BlackPointCompensation.ON,
    )
    assert (device == 65535).all()


def test_neutral_ramp_is_monotone_and_neutral(profile):
    levels = np.linspace(0, 100, 2001)
    lab = printed(neutral(levels), profile)
    assert (np.diff(lab[:, 0]) >= 0).all()
    black_l = lab[0, 0]
    in_reach = levels >= black_l
    assert np.hypot(lab[in_reach, 1], lab[in_reach, 2]).max() < 0.5
    assert lab[in_reach, 0] == pytest.approx(levels[in_reach], abs=0.7)


@pytest.mark.parametrize("intent", PCS_INTENTS)
def test_black_is_the_deepest_black(profile, intent):
    device = lab_to_device(np.zeros((1, 1, 3)), profile, intent=intent)
    assert device.max() < 100


def test_only_perceptual_and_saturation_scale_the_black(profile, paper):
    shadows = neutral(np.array([0.0, 1.0, 2.0, 3.0]))
    assert np.ptp(printed(shadows, profile)[:, 0]) < 0.01
    for intent in (Intent.PERCEPTUAL, Intent.SATURATION):
        steps = np.diff(printed(shadows, profile, intent)[:, 0])
        if paper.perceptual_black is PerceptualBlack.OWN:
            assert np.ptp(printed(shadows, profile, intent)[:, 0]) < 0.01
        else:
            assert (steps > 0.05).all()


def strong_reds():
    """Chroma 60 to 130 at the hue of the red bowl."""
    chroma = np.linspace(60, 130, 15)
    hue = np.radians(42)
    return np.stack(
        [np.full(15, 50.0), chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1
    )


def chroma_of(lab):
    return np.hypot(lab[:, 1], lab[:, 2])


def test_perceptual_keeps_differences_that_the_nearest_colour_loses(profile, paper):
    bent = chroma_of(printed(strong_reds(), profile, Intent.PERCEPTUAL))
    # The aims rise by 0.1 and less at the end; beyond a* 92 nodes are far apart, and
    # where black lifts no lightness their error, 0.2 at a chroma of 130, is larger.
    in_order = bent[:-1] if paper.perceptual_black is PerceptualBlack.OWN else bent
    assert (np.diff(in_order) > 0).all()
    nearest = chroma_of(printed(strong_reds(), profile))
    # In reach the nearest colour is the colour itself; the knee gives that up.
    assert bent[0] < nearest[0] + 0.5
    assert bent[-1] - bent[-4] < bent[3] - bent[0]


def test_saturation_prints_stronger_colours_than_perceptual(profile):
    middle = strong_reds() * [1, 0.5, 0.5]
    strong = chroma_of(printed(middle, profile, Intent.SATURATION))
    calm = chroma_of(printed(middle, profile, Intent.PERCEPTUAL))
    assert (strong > calm + 3).all()


def test_nearest_colour_is_nearly_the_nearest_there_is(profile):
    rng = np.random.default_rng(4)
    lab = rng.uniform([20, -90, -90], [95, 90, 90], (400, 3))
    reached = delta_e(lab, printed(lab, profile))
    # Not the blues: far out there, CIEDE2000's rotation term calls green near.
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    chosen = (reached > 3) & ~((hue > 240) & (hue < 330))
    lab, reached = lab[chosen][:40], reached[chosen][:40]
    steps = np.linspace(0, 65535, 25).astype(np.uint16)
    cube = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), -1)
    every = device_to_lab(
        cube.reshape(1, -1, 3), profile, intent=Intent.MEDIA_RELATIVE
    )[0]
    best = np.array(
        [delta_e(np.broadcast_to(one, every.shape), every).min() for one in lab]
    )
    # The search measures by CIE94's weights, this test by CIEDE2000.
    assert (reached - best).mean() < 0.6
    assert np.quantile(reached - best, 0.9) < 1.5


def reach_grid_and_curve(element, *, v4):
    """Codes of the grid and of the curve behind it."""
    if v4:
        # ICC.1:2022, 10.13: offsets of grid and A curves; a curve's entries.
        grid, curve = np.frombuffer(element, ">u4", 2, 24)
        assert element[8:10] == b"\3\1"
        assert element[grid : grid + 4] == bytes([33, 33, 33, 0])
        entries = int.from_bytes(element[curve + 8 : curve + 12], "big")
        return (
            np.frombuffer(element, ">u2", 33**3, grid + 20),
            np.frombuffer(element, ">u2", entries, curve + 12),
        )
    inputs, outputs, points = element[8:11]
    entries = int.from_bytes(element[48:50], "big")
    assert (inputs, outputs, points) == (3, 1, 33)
    return (
        np.frombuffer(element, ">u2", points**3, 52 + 2 * inputs * entries),
        np.frombuffer(element, ">u2")[-int.from_bytes(element[50:52], "big") :],
    )


def test_reach_table_is_zero_inside_and_not_outside(profile, paper):
    element = read_icc(profile.data, where="test").tags["gamt"]
    grid, after = reach_grid_and_curve(element, v4=is_v4(paper))
    points = 33
    grid = grid.reshape(points, points, points) / 65535 * 32
    middle = points // 2
    assert grid[middle, middle, middle] < 0.1
    assert grid[middle, -1, -1] > 5
    # Full scale of the table is 32 colour differences; up to 2 counts as in reach.
    assert (after[: 2 * len(after) // 32] == 0).all()
    assert (after[2 * len(after) // 32 + 1 :] > 0).all()


def test_inversion_finds_the_device_values_it_started_from():
    steps = np.linspace(0, 1, 9)
    device = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), -1)
    # A bent but one-to-one map of the cube.
    table = (device**1.3 * [60, 50, 70] + device[..., ::-1] * [30, 20, 10]) + [5, 0, 0]
    wanted = np.random.default_rng(2).random((500, 3))
    target, slopes = table_lab(table, wanted)
    nudged, _slopes = table_lab(table, wanted + 1e-7)
    assert (nudged - target) / 1e-7 == pytest.approx(slopes.sum(axis=2), abs=1e-3)
    found = nearest_device(table, target, difference_axes(target))
    assert found == pytest.approx(wanted, abs=1e-3)


@pytest.mark.slow
def test_profile_is_the_same_bytes_in_every_process(studio):
    satin = INKED_PAPERS[0]
    first = write_profile(satin, PRINTER_NAME)
    assert write_profile(satin, PRINTER_NAME) == first
    assert studio.scenario.satin_profile.read_bytes() == first
    gloss = write_profile(INKED_PAPERS[3], PRINTER_NAME)
    assert studio.scenario.gloss_profile.read_bytes() == gloss
    code = (
        "from hashlib import sha256\n"
        "from printplan.demo.inks import INKED_PAPERS\n"
        "from printplan.demo.profile_writer import write_profile\n"
        f"data = write_profile(INKED_PAPERS[0], {PRINTER_NAME!r})\n"
        "print(sha256(data).hexdigest())\n"
    )
    fresh = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, text=True
    )
    assert fresh.stdout.strip() == sha256(first).hexdigest()


# Where the perceptual and saturation tables have their black

REFERENCE_BLACK_L = 3.1373
"""ICC.1:2022, 6.3.3: 0.30911 % on a white of 89 %; L* by CIE 15, (29/3)³ Y."""

RENDERED = pytest.mark.parametrize(
    "number", ["0", "2"], ids=["perceptual", "saturation"]
)


@pytest.fixture
def gloss(studio):
    return open_profile(studio.scenario.gloss_profile)


@pytest.fixture
def matte(studio):
    return open_profile(studio.scenario.matte_profile)


def by_colorimetric(profile, number):
    """The same profile, one pair of its tables in place of the media-relative one.

    By their own intent LittleCMS compensates version 4 unasked, so that what a table
    holds would not be seen.
    """
    icc = read_icc(profile.data, where="test")
    moved = {f"{way}1": icc.tags[f"{way}{number}"] for way in ("A2B", "B2A")}
    data = write_icc(icc.header, {**icc.tags, **moved})
    return profile_from_bytes(data, where="test")


def test_reference_black_is_that_of_the_standard():
    share = 0.30911 / 89
    assert (29 / 3) ** 3 * share == pytest.approx(REFERENCE_BLACK_L, abs=5e-5)


@RENDERED
def test_version_4_tables_refer_to_the_reference_medium(gloss, number):
    table = by_colorimetric(gloss, number)
    ends = np.array([[[0, 0, 0], [65535, 65535, 65535]]], np.uint16)
    read = device_to_lab(ends, table, intent=Intent.MEDIA_RELATIVE)[0]
    # One code of 16 bits is 0.004 of a*, and the grid is steep in the darks.
    assert read[0] == pytest.approx([REFERENCE_BLACK_L, 0, 0], abs=0.02)
    assert read[1] == pytest.approx([100, 0, 0], abs=1e-4)
    black, lighter = lab_to_device(
        neutral(np.array([REFERENCE_BLACK_L, REFERENCE_BLACK_L + 0.5]))[None],
        table,
        intent=Intent.MEDIA_RELATIVE,
    )[0]
    assert black.max() < 100
    assert lighter.min() > black.max()


@RENDERED
def test_version_4_tables_read_what_they_print(gloss, number):
    table = by_colorimetric(gloss, number)
    greys = neutral(np.linspace(REFERENCE_BLACK_L, 100, 500))
    back = printed(greys, table)
    error = delta_e(greys, back)
    assert error.mean() <= 0.1
    assert error.max() <= 0.5
    # The last step before white is bare paper already.
    assert (np.diff(back[:, 0])[:-2] > 0).all()
    assert (np.diff(back[:, 0]) >= 0).all()


def test_littlecms_compensates_version_4_to_the_papers_black(gloss):
    # ISO 18619: the reference black arrives where the paper is black, compensation
    # asked for or not; then tones are in order from there.
    for wish in BlackPointCompensation:
        device = lcms_convert(
            np.repeat(np.arange(0, 65536, 771, np.uint16)[None, :, None], 3, axis=2),
            named_profile(NamedSpace.ROMM_RGB),
            gloss,
            intent=Intent.PERCEPTUAL,
            black_point_compensation=wish,
        )
        assert device[0, 0].max() < 100
        assert (np.diff(device[0].astype(int).sum(axis=1)) > 0).all()


def test_version_4_tables_use_all_their_stages(gloss):
    # ICC.1:2022, 10.12 and 10.13: offsets of B, matrix, M, grid and A; 0 is absent.
    tags = read_icc(gloss.data, where="test").tags
    for name in ("A2B0", "A2B1", "A2B2", "B2A0", "B2A1", "B2A2", "gamt"):
        offsets = np.frombuffer(tags[name], ">u4", 5, 12)
        assert (offsets > 0).all()
        matrix = np.frombuffer(tags[name], ">i4", 9, offsets[1]).reshape(3, 3) / 65536
        assert np.abs(matrix - np.eye(3)).max() > 0.1
        # The first M curve of three; before a colour's, L* goes straight (12 bytes).
        start = offsets[2] + (0 if name.startswith("A2B") else 12)
        count = int.from_bytes(tags[name][start + 8 : start + 12], "big")
        codes = np.frombuffer(tags[name], ">u2", count, start + 12)
        assert np.abs(codes - np.linspace(0, 65535, count)).max() > 3000
    assert tags["A2B0"] != tags["A2B1"]


def test_the_matte_papers_tables_hold_its_own_black(matte):
    black = device_to_lab(
        np.zeros((1, 1, 3), np.uint16), matte, intent=Intent.MEDIA_RELATIVE
    )[0, 0]
    assert black[0] > 14
    for intent in PCS_INTENTS:
        # Lighter tones come out as they are, deeper ones as black.
        greys = neutral(np.array([0.0, 5.0, black[0] - 1.0, 20.0, 40.0]))
        back = printed(greys, matte, intent)[:, 0]
        assert back[:3] == pytest.approx(black[0], abs=0.05)
        assert back[3:] == pytest.approx([20, 40], abs=0.5)


def test_compensation_moves_the_matte_papers_perceptual_black(matte):
    """ISO 18619 by LittleCMS: the line from black 0 to the paper's, in Y."""
    ramp = np.repeat(np.arange(0, 65536, 257, np.uint16)[None, :, None], 3, axis=2)
    romm = named_profile(NamedSpace.ROMM_RGB)
    asked = device_to_lab(ramp, romm, intent=Intent.MEDIA_RELATIVE)[0]
    out = {}
    for wish in BlackPointCompensation:
        device = lcms_convert(
            ramp,
            romm,
            matte,
            intent=Intent.PERCEPTUAL,
            black_point_compensation=wish,
        )
        out[wish] = device_to_lab(device, matte, intent=Intent.MEDIA_RELATIVE)[0]
    off, on = out[BlackPointCompensation.OFF], out[BlackPointCompensation.ON]
    black_l = off[0, 0]
    deep = asked[:, 0] < black_l - 1.0
    assert deep.sum() > 20
    assert np.ptp(off[deep, 0]) < 0.05
    assert (np.diff(on[:, 0]) > 0).all()
    black_y, asked_y = (xyz_from_lab(lab)[..., 1] for lab in (off[0], asked))
    expected = lab_from_xyz((asked_y * (1 - black_y) + black_y)[:, None] * D50_XYZ)
    # LittleCMS finds the black by a parabola through the shadows.
    assert on[:, 0] == pytest.approx(expected[:, 0], abs=0.5)


def test_d50_of_the_profile_is_exact(profile):
    header = np.frombuffer(profile.data[68:80], ">i4") / 65536
    assert header == pytest.approx(np.array(D50_XYZ), abs=8e-6)
