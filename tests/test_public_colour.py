"""The colour family at its door: shapes, number types, refusals, outside judges."""

import importlib
from pathlib import Path

import colour as outside
import numpy as np
import outside_tools
import pytest

import printplan.colour
from printplan.colour import (
    compare_intents,
    compensate_black_point,
    convert,
    coverage,
    delta_e_2000,
    device_to_lab,
    gamut_distance,
    gamut_mesh,
    gamut_volume,
    match_display,
    open_profile,
    paper_luminance_cd_m2,
    profile_facts,
    rendered_lab,
    section_at_hue,
    section_at_lightness,
    separation,
    soft_proof,
    tone_steps,
)
from printplan.colour.black_point import destination_black_point
from printplan.colour.intents import Choice
from printplan.colour.spaces import decode, encode
from printplan.colour.tone import (
    density_to_lightness,
    lightness_to_density,
    print_wedge,
)
from printplan.colour.transforms import lab_to_device
from printplan.colour.viewing import paper_reflectance
from printplan.errors import PrintPlanError, ProfileError, SpecError
from printplan.spec import BlackPointCompensation, Intent

PRESS = Path(__file__).parent / "data" / "FOGRA39L_coated.icc"
FULL_SCALE = {np.uint8: 255, np.uint16: 65535, np.float32: 1.0, np.float64: 1.0}
TAKE_PIXELS = {
    "convert": lambda pixels: convert(pixels, "srgb", "oprgb"),
    "soft_proof": lambda pixels: soft_proof(pixels, "srgb", PRESS),
    "device_to_lab": lambda pixels: device_to_lab(pixels, "srgb"),
}
TAKE_LAB = {
    "lab_to_device": lambda lab: lab_to_device(lab, "srgb"),
    "rendered_lab": lambda lab: rendered_lab(lab, PRESS),
    "gamut_distance": lambda lab: gamut_distance(lab, PRESS),
    "separation": lambda lab: separation(lab, PRESS).tone,
    "delta_e_2000": lambda lab: delta_e_2000(lab, [50.0, 0, 0]),
    "compare_intents": lambda lab: compare_intents(lab, "srgb").distance,
}


@pytest.fixture(scope="module")
def picture():
    """A small picture of sRGB codes, with black, white and the primaries in it."""
    drawn = np.random.default_rng(17).integers(0, 256, (4, 6, 3)).astype(np.uint8)
    drawn[0, :5] = [[0, 0, 0], [255, 255, 255], [255, 0, 0], [0, 255, 0], [0, 0, 255]]
    return drawn


def press_inks(picture, tmp_path, *flags):
    """The picture in percent of ink by LittleCMS' own command line."""
    source = tmp_path / "srgb.icc"
    source.write_bytes(open_profile("srgb").data)
    rows = picture.reshape(-1, 3)
    return outside_tools.transicc(rows, f"-i{source}", f"-o{PRESS}", *flags)


# The door.


def test_every_name_is_the_function_and_not_a_module():
    """Also once the modules below are loaded, which a name of theirs would hide."""
    for module in Path(printplan.colour.__file__).parent.glob("*.py"):
        importlib.import_module(f"printplan.colour.{module.stem}")
    assert len(printplan.colour.__all__) == 20
    for name in printplan.colour.__all__:
        found = getattr(printplan.colour, name)
        assert callable(found), name
        assert found.__name__ == name
        assert "Parameters\n" in found.__doc__, name
        # Those that need a paper have nothing small to show.
        shows = "Examples\n" in found.__doc__
        assert shows or name == "paper_reflectance", name


# Shapes and number types.


@pytest.mark.parametrize("dtype", FULL_SCALE)
@pytest.mark.parametrize("name", TAKE_PIXELS)
def test_codes_of_every_type_mean_the_same(picture, dtype, name):
    scaled = (picture / 255 * FULL_SCALE[dtype]).astype(dtype)
    before = scaled.copy()
    found, expected = TAKE_PIXELS[name](scaled), TAKE_PIXELS[name](picture)
    assert np.array_equal(scaled, before)
    if name == "convert":
        assert found.dtype == dtype
        found, expected = found / FULL_SCALE[dtype], expected / 255
        # One is rounded to 8 bits.
        assert np.abs(found - expected).max() <= 0.5 / 255 + 1e-4
    else:
        assert np.array_equal(found, expected)


@pytest.mark.parametrize("shape", [(4, 6, 3), (24, 3), (2, 2, 6, 3), (24, 1, 3)])
@pytest.mark.parametrize("name", TAKE_PIXELS)
def test_pixels_of_any_shape_keep_it(picture, shape, name):
    expected = TAKE_PIXELS[name](picture)
    found = TAKE_PIXELS[name](picture.reshape(shape))
    assert found.shape == shape
    assert np.array_equal(found.reshape(4, 6, 3), expected)
    assert np.array_equal(TAKE_PIXELS[name](picture[1, 1]), expected[1, 1])


@pytest.mark.parametrize("name", [name for name in TAKE_LAB if name[:3] != "com"])
def test_colours_of_any_shape_keep_it(picture, name):
    lab = device_to_lab(picture, "srgb")
    before = lab.copy()
    whole = TAKE_LAB[name](lab)
    assert np.array_equal(lab, before)
    assert whole.shape[:2] == (4, 6)
    row = TAKE_LAB[name](lab.reshape(24, 3))
    assert np.array_equal(whole.reshape(row.shape), row)
    single = TAKE_LAB[name](lab[1, 2].tolist())
    assert np.allclose(single, whole[1, 2], atol=1e-9)


def test_grey_is_rows_and_columns(picture):
    grey = picture[..., 0]
    there = convert(grey, "grey srgb", "srgb")
    # Grey of that curve is the same code in all three channels, to a rounding.
    assert np.abs(there.astype(int) - grey[..., None]).max() <= 1
    assert device_to_lab(grey, "grey srgb").shape == (4, 6, 3)
    assert convert(grey, "grey srgb", "grey oprgb").shape == (4, 6, 1)


def test_profiles_may_be_paths_bytes_or_opened(picture):
    ways = (PRESS, str(PRESS), PRESS.read_bytes(), open_profile(PRESS))
    first, *others = (convert(picture, "sRGB", paper) for paper in ways)
    assert first.shape == (4, 6, 4)
    assert all(np.array_equal(first, other) for other in others)
    assert open_profile("ROMM RGB") is open_profile("romm-rgb")


# Refusals.


@pytest.mark.parametrize(
    ("wrong", "said", "remedy"),
    [
        (np.zeros((4, 6)), r"\(4, 6\) and type float64", "last axis has length 3"),
        (np.zeros((2, 2, 4), np.uint8), r"\(2, 2, 4\) and type uint8", "length 3"),
        (np.zeros((2, 3), np.int64), r"\(2, 3\) and type int64", "uint8 or uint16"),
        (np.full((2, 3), 1.5), "run from 1.5 to 1.5", "floats from 0 to 1"),
        (np.full((2, 3), np.nan), "run from nan", "floats from 0 to 1"),
        (np.array([["a", "b", "c"]]), "type <U1", "uint8 or uint16"),
    ],
)
@pytest.mark.parametrize("name", TAKE_PIXELS)
def test_what_is_no_picture_is_refused(wrong, said, remedy, name):
    with pytest.raises(SpecError, match=said) as refused:
        TAKE_PIXELS[name](wrong)
    assert remedy in refused.value.remedy


@pytest.mark.parametrize(
    ("wrong", "said", "remedy"),
    [
        (np.zeros((5, 2)), r"\(5, 2\) and type float64", "last axis has length 3"),
        (np.zeros((5, 3), np.uint8), r"\(5, 3\) and type uint8", "device_to_lab first"),
        (np.full((5, 3), np.inf), "no numbers", "three finite numbers"),
    ],
)
@pytest.mark.parametrize("name", TAKE_LAB)
def test_what_is_no_colour_is_refused(wrong, said, remedy, name):
    with pytest.raises(SpecError, match=said) as refused:
        TAKE_LAB[name](wrong)
    assert remedy in refused.value.remedy


@pytest.mark.parametrize(
    ("ask", "kind", "remedy"),
    [
        (lambda p: convert(p, "srgb", PRESS, intent="best"), SpecError, '"saturation"'),
        (
            lambda p: convert(p, "srgb", PRESS, black_point_compensation="yes"),
            SpecError,
            '"on", "off"',
        ),
        (lambda p: soft_proof(p, "srgb", PRESS, white="wall"), SpecError, '"paper"'),
        (lambda _: gamut_mesh("srgb", white="wall"), SpecError, '"illuminant"'),
        (lambda _: decode("srgb3", 0.5), SpecError, '"opRGB"'),
        (lambda _: decode("srgb", 1), SpecError, "floats from 0 to 1"),
        (lambda p: convert(p, "nowhere.icc", "srgb"), ProfileError, "or ROMM RGB"),
        (lambda p: convert(p, 3, "srgb"), ProfileError, "name of a space"),
        (lambda p: convert(p, b"no profile", "srgb"), ProfileError, "Fetch"),
        (lambda _: gamut_volume("grey srgb"), ProfileError, "RGB or CMYK"),
        (lambda _: print_wedge("srgb", "oprgb"), ProfileError, "for this paper"),
        (lambda _: paper_reflectance("srgb"), ProfileError, "for this paper"),
        (lambda _: destination_black_point("srgb", "icc-absolute"), SpecError, "perce"),
        (lambda _: compensate_black_point([1, 2], 0, 0), SpecError, "length 3"),
    ],
)
def test_wrong_choices_and_profiles_are_refused(picture, ask, kind, remedy):
    with pytest.raises(PrintPlanError) as refused:
        ask(picture)
    assert isinstance(refused.value, kind)
    assert remedy in refused.value.remedy


# Against others.


def test_lab_of_srgb_is_that_of_colour_science(picture):
    xyz = outside.sRGB_to_XYZ(
        picture / 255,
        illuminant=outside.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][
            "D50"
        ],
        chromatic_adaptation_transform="Bradford",
    )
    d50 = np.array([0.9642, 1.0, 0.8249])
    judged = outside.XYZ_to_Lab(xyz, outside.XYZ_to_xy(d50))
    # It knows D50 by four decimals of x and y: 0.05 of b* in the strongest blue.
    ours = device_to_lab(picture, "srgb")
    assert np.abs(ours - judged).max() <= 0.1
    back = lab_to_device(judged, "srgb")
    assert np.abs(back / 257 - picture).max() <= 0.6


@pytest.mark.parametrize(
    ("space", "judge"), [("srgb", "sRGB"), ("romm rgb", "ROMM RGB")]
)
def test_curves_are_those_of_colour_science(space, judge):
    code = np.linspace(0, 1, 101)
    if space == "srgb":
        light = outside.models.eotf_sRGB(code)
    else:
        light = outside.cctf_decoding(code, function=judge)
    # The standards round their knees: two formulas part by 1e-5 between them.
    assert np.abs(decode(space, code) - light).max() <= 2e-5
    assert np.abs(encode(space, decode(space, code)) - code).max() <= 1e-5
    codes = np.rint(code * 65535).astype(np.uint16)
    assert np.array_equal(decode(space, codes), decode(space, codes / 65535))


@pytest.mark.tools("transicc")
@pytest.mark.parametrize("compensation", ["on", "off"])
@pytest.mark.parametrize(
    ("intent", "number"),
    [("perceptual", 0), ("media-relative", 1), ("saturation", 2), ("icc-absolute", 3)],
)
def test_inks_are_those_of_transicc(picture, tmp_path, intent, number, compensation):
    flags = ["-b"] if compensation == "on" else []
    judged = press_inks(picture, tmp_path, f"-t{number}", *flags)
    inks = convert(
        picture.astype(np.float64) / 255,
        "srgb",
        PRESS,
        intent=intent,
        black_point_compensation=compensation,
    )
    # As in `test_transforms`: steep tables of 17 points, 0.1 of 255.
    assert np.abs(inks.reshape(-1, 4) - judged / 100).max() <= 0.1 / 255


@pytest.mark.tools("transicc")
def test_proof_and_lab_of_the_print_are_those_of_transicc(picture, tmp_path):
    inks = press_inks(picture, tmp_path, "-t1", "-b")
    screen = tmp_path / "screen.icc"
    screen.write_bytes(open_profile("srgb").data)
    for white, number in (("paper", 1), ("illuminant", 3)):
        judged = outside_tools.transicc(
            inks, f"-i{PRESS}", f"-o{screen}", f"-t{number}"
        )
        shown = soft_proof(picture, "srgb", PRESS, white=white).reshape(-1, 3)
        # Rounded to 8 bits; 0.1 of 255 of ink before.
        assert np.abs(shown - np.clip(judged, 0, 255)).max() <= 0.7
    judged = outside_tools.transicc(inks, f"-i{PRESS}", "-o*Lab4", "-t1")
    lab = device_to_lab(picture, "srgb")
    ours = rendered_lab(lab, PRESS, source="srgb").reshape(-1, 3)
    # 0.1 of 255 of ink moves a colour by less than this.
    assert outside.delta_E(ours, judged, method="CIE 2000").max() <= 0.1


@pytest.mark.tools("transicc")
def test_gamut_distance_is_the_round_trip_of_transicc(picture, tmp_path):
    inks = press_inks(picture, tmp_path, "-t1")
    held = outside_tools.transicc(inks, f"-i{PRESS}", "-o*Lab4", "-t1")
    lab = device_to_lab(picture, "srgb")
    judged = outside.delta_E(lab.reshape(-1, 3), held, method="CIE 2000")
    assert np.abs(gamut_distance(lab, PRESS).ravel() - judged).max() <= 0.1
    assert np.abs(delta_e_2000(lab.reshape(-1, 3), held) - judged).max() <= 1e-9
    # The same mean as each intent is charged with, for the one without compensation.
    compared = compare_intents(lab, PRESS, source="srgb")
    plain = compared.of(Choice(Intent.MEDIA_RELATIVE, BlackPointCompensation.OFF))
    assert plain.mean_delta_e == pytest.approx(judged.mean(), abs=0.02)


@pytest.mark.tools("transicc")
def test_wedge_is_that_of_transicc(tmp_path):
    source_l = np.arange(0.0, 101, 10)
    wedge = print_wedge("srgb", PRESS, source_l=source_l)
    grey = lab_to_device(source_l[:, None] * [1.0, 0, 0], "srgb")
    inks = press_inks(grey / 257, tmp_path, "-t1", "-b")
    judged = outside_tools.transicc(inks, f"-i{PRESS}", "-o*Lab4", "-t3")
    assert outside.delta_E(wedge.printed_lab, judged, method="CIE 2000").max() <= 0.1
    rise = np.diff(judged[:, 0])
    assert np.array_equal(tone_steps(wedge).is_separate, rise >= 0.5)


def test_gamuts_have_the_published_volumes_and_share():
    # B. Lindbloom, Information about RGB working spaces: volumes under D50. opRGB
    # holds sRGB but for slivers, since one primary moved and two stayed.
    assert gamut_volume("srgb") == pytest.approx(832_870, rel=2e-3)
    assert gamut_volume("oprgb") == pytest.approx(1_208_631, rel=2e-3)
    ratio = 832_870 / 1_208_631
    assert coverage("oprgb", "srgb").share == pytest.approx(ratio, abs=3e-3)
    assert coverage("srgb", "oprgb").share == pytest.approx(1, abs=3e-3)


def test_sections_lie_on_the_faces_of_the_cube():
    """Where a working space ends, one of its channels is at none or at full."""
    at_50 = section_at_lightness("srgb", 50.0)[0]
    leaf = section_at_hue("srgb", 40.0)[0]
    hue = np.radians(40.0)
    for lab in (
        np.column_stack([np.full(len(at_50), 50.0), at_50]),
        np.column_stack([leaf[:, 1], np.outer(leaf[:, 0], [np.cos(hue), np.sin(hue)])]),
    ):
        codes = lab_to_device(lab, "srgb") / 65535
        # A chord of 1/32 of an edge is this far inside, of the light.
        assert np.minimum(codes, 1 - codes).min(axis=1).max() <= 0.02


def test_separation_is_whole_inside_a_gamut_and_gone_far_outside():
    inside = separation([[50.0, 5, 5], [70, -10, 10]], "srgb", "media-relative", "off")
    # The map is the identity there; 16 bits of code and single precision round it.
    assert inside.tone == pytest.approx([1, 1], abs=0.01)
    assert inside.chroma == pytest.approx([1, 1], abs=0.01)


def test_press_profile_says_what_the_condition_is():
    # FOGRA39L characterization data: paper 95, 0, -2.
    facts = profile_facts(PRESS)
    assert facts.white_lab == pytest.approx((95, 0, -2), abs=0.1)
    # CIE L*: Y = ((95 + 16) / 116)^3.
    reflectance = ((95 + 16) / 116) ** 3
    assert paper_reflectance(PRESS) == pytest.approx(reflectance, abs=0.0024)
    assert facts.white_density == pytest.approx(-np.log10(reflectance), abs=2e-3)
    black = destination_black_point(PRESS)
    assert black == pytest.approx(
        destination_black_point(open_profile(PRESS), "media-relative")
    )
    assert 0 < black[0] < 16  # Solid black has 16, four solids less.


def test_black_goes_to_black_on_a_straight_line():
    # ISO 18619:2015, 4.2.6, in Y alone: a line through (black, black) and (1, 1).
    y = np.array([0.01, 0.3, 1.0])
    xyz = y[:, None] * [0.9642, 1.0, 0.8249]
    low, high = xyz[0], 0.05 * xyz[2]
    moved = compensate_black_point(xyz, low, high)[:, 1]
    expected = 0.05 + (y - 0.01) * (1 - 0.05) / (1 - 0.01)
    assert moved == pytest.approx(expected, abs=1e-4)  # D50 by four decimals


def test_density_lightness_and_luminance_follow_their_definitions():
    # CIE L* = 116 Y^(1/3) - 16 with Y = 10^-D; Lambert: L = E·ρ/π.
    assert density_to_lightness(1.5) == pytest.approx(116 * 10**-0.5 - 16)
    assert lightness_to_density(116 * 10**-0.5 - 16) == pytest.approx(1.5)
    assert paper_luminance_cd_m2(np.pi * 100, 0.9) == pytest.approx(90)
    assert match_display(np.pi * 100, 0.9, 45).difference_stops == pytest.approx(1)
