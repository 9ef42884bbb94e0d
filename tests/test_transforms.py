"""LittleCMS' own command line, another build and version, as the outside judge."""

import colour
import imagecodecs
import numpy as np
import outside_tools
import pytest
from profile_flaws import grey_output_profile

from printplan.colour.conversion import linear_to_device
from printplan.colour.profiles import open_profile, profile_from_bytes
from printplan.colour.proof import device_to_screen, rendered_device
from printplan.colour.spaces import grey_profile, named_profile
from printplan.colour.transforms import (
    device_to_lab,
    lab_to_device,
    lcms_convert,
    luminance_weights,
    tone_curves,
)
from printplan.errors import ProfileError
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

TRANSICC_INTENT = {
    Intent.PERCEPTUAL: "0",
    Intent.MEDIA_RELATIVE: "1",
    Intent.SATURATION: "2",
    Intent.ICC_ABSOLUTE: "3",
}


def transicc(values, source, target, intent, compensation, folder):
    """Rows of device values (RGB and Lab as printed, CMYK in percent) converted."""
    arguments = [f"-t{TRANSICC_INTENT[intent]}"]
    for flag, profile in (("-i", source), ("-o", target)):
        if isinstance(profile, str):
            arguments.append(flag + profile)
        else:
            path = folder / f"{flag[1]}.icc"
            path.write_bytes(profile.data)
            arguments.append(f"{flag}{path}")
    if compensation is BlackPointCompensation.ON:
        arguments.append("-b")
    return outside_tools.transicc(values, *arguments)


@pytest.fixture(scope="module")
def colours():
    """Random codes, and the greys, primaries and corners of the cube."""
    rng = np.random.default_rng(11)
    grey = np.repeat(np.linspace(0, 65535, 33)[:, None], 3, axis=1)
    corners = np.array(np.meshgrid(*[[0, 65535]] * 3)).reshape(3, -1).T
    drawn = rng.integers(0, 65536, (300, 3))
    return np.rint(np.concatenate([grey, corners, drawn])).astype(np.uint16)


@pytest.fixture(params=["press", "cotton"])
def output(request, fogra39, paper_profiles):
    """A real press condition, and the demo's cotton paper."""
    return fogra39 if request.param == "press" else paper_profiles["Fen Cotton 310"]


SOURCES = (*NamedSpace, "grey")


def source_profile(name):
    if name == "grey":
        return profile_from_bytes(
            imagecodecs.cms_profile("gray", gamma=2.2), where="the codec"
        )
    return named_profile(name)


@pytest.mark.tools("transicc")
@pytest.mark.parametrize("compensation", list(BlackPointCompensation))
@pytest.mark.parametrize("intent", list(Intent))
@pytest.mark.parametrize("source", SOURCES)
def test_pipeline_agrees_with_transicc(
    colours, fogra39, paper_profiles, source, intent, compensation, tmp_path
):
    """The file's own stages on every paper of the demo, and on a press condition."""
    space = source_profile(source)
    codes = colours[:, : space.channels]
    for paper in (*paper_profiles.values(), fogra39):
        press = paper.space == "CMYK"
        judged = transicc(codes / 257, space, paper, intent, compensation, tmp_path)
        judged = np.clip(judged / (100 if press else 255), 0, 1) * 255
        done = linear_to_device(
            space, paper, intent=intent, black_point_compensation=compensation
        ).from_linear(as_linear(codes, space))[0]
        # The command line computes in floating point and prints 4 decimals; ours
        # rounds to 16 bits (0.004 of 255) at the end and to single precision before.
        # A press' tables of 17 points are steep in four inks.
        allowed = 0.1 if press else 0.07
        assert np.abs(done / 257 - judged).max() <= allowed, paper.name
        lab = device_to_lab(codes[None], space, intent=Intent.MEDIA_RELATIVE)[0]
        told = rendered_device(lab, paper, intent, compensation, source=space)
        assert np.abs(told / 257 - judged).max() <= allowed, paper.name


def as_linear(codes, profile):
    """Planes of linear light, one row of pixels each."""
    curves = tone_curves(profile)
    return np.stack(
        [curve[codes[:, channel]][None] for channel, curve in enumerate(curves)]
    )


@pytest.mark.tools("transicc")
def test_device_to_lab_agrees_with_transicc(fogra39, tmp_path):
    rng = np.random.default_rng(5)
    inks = rng.integers(0, 65536, (200, 4)).astype(np.uint16)
    judged = transicc(
        inks / 655.35,
        fogra39,
        "*Lab4",
        Intent.ICC_ABSOLUTE,
        BlackPointCompensation.OFF,
        tmp_path,
    )
    ours = device_to_lab(inks[None], fogra39, intent=Intent.ICC_ABSOLUTE)[0]
    # Printed to 4 decimals; lut16 tables are read in float by both.
    assert np.abs(ours - judged).max() <= 0.01


def test_tone_curves_match_srgb_formula():
    # IEC 61966-2-1:1999, 5.2. The profile's own numbers are s15Fixed16 (1.5e-5),
    # which moves the curve by less than 2e-5.
    code = np.arange(65536) / 65535
    formula = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    curves = tone_curves(named_profile(NamedSpace.SRGB))
    assert np.abs(curves - formula).max() <= 2e-5


def test_luminance_weights_are_the_middle_row_of_the_matrix():
    # ROMM RGB to XYZ D50, ISO 22028-2:2013, annex: Y = 0.2880 R + 0.7119 G + 0.0001 B.
    weights = luminance_weights(named_profile(NamedSpace.ROMM_RGB))
    assert weights == pytest.approx([0.2880, 0.7119, 0.0001], abs=1e-4)


def test_pipeline_depends_on_the_pixel_alone(colours, output):
    source = named_profile(NamedSpace.SRGB)
    wish = {
        "intent": Intent.MEDIA_RELATIVE,
        "black_point_compensation": BlackPointCompensation.ON,
    }
    pipeline = linear_to_device(source, output, **wish)
    linear = as_linear(colours, source)
    whole = pipeline.from_linear(linear)
    for start, stop in ((40, 47), (0, 1), (3, 300), (331, 341)):
        part = pipeline.from_linear(linear[..., start:stop])
        assert np.array_equal(whole[:, start:stop], part)


def test_lab_to_device_and_back_stays_in_place(output):
    lab = np.array([[[30.0, 5, 5], [50, 0, 0], [70, 10, -10]]])
    device = lab_to_device(lab, output, intent=Intent.MEDIA_RELATIVE)
    back = device_to_lab(device, output, intent=Intent.MEDIA_RELATIVE)
    # In-gamut colours of a good profile round-trip within about 1.1 (common
    # practice for a 17- or 33-point table).
    assert colour.delta_E(lab, back, method="CIE 2000").max() <= 1.1


def test_damaged_profile_is_refused(fogra39):
    with pytest.raises(ProfileError, match="Fetch the profile again"):
        profile_from_bytes(fogra39.data[:3000], where="a truncated file")
    with pytest.raises(ProfileError, match="Fetch the profile again"):
        profile_from_bytes(b"not a profile", where="a text")


def test_missing_profile_is_refused(tmp_path):
    with pytest.raises(ProfileError, match="Check the path where it is named"):
        open_profile(tmp_path / "none.icc")


def test_table_profile_has_no_tone_curve(fogra39):
    with pytest.raises(ProfileError, match="matrix space"):
        tone_curves(fogra39)


def test_profiles_that_do_not_join_are_refused(fogra39, colours):
    broken = profile_from_bytes(
        fogra39.data[:128] + (0).to_bytes(4, "big") + fogra39.data[132:], where="test"
    )
    with pytest.raises(ProfileError, match="Choose another intent"):
        lcms_convert(
            colours[None],
            named_profile(NamedSpace.SRGB),
            broken,
            intent=Intent.MEDIA_RELATIVE,
            black_point_compensation=BlackPointCompensation.OFF,
        )


@pytest.mark.parametrize("target", list(NamedSpace))
@pytest.mark.parametrize("intent", list(Intent))
def test_pipeline_to_a_named_space_agrees_with_littlecms(colours, target, intent):
    wish = {
        "intent": intent,
        "black_point_compensation": BlackPointCompensation.OFF,
    }
    source = named_profile(NamedSpace.ROMM_RGB)
    exact = lcms_convert(
        colours[None],
        source,
        named_profile(target),
        **wish,
    )
    fast = linear_to_device(source, named_profile(target), **wish).from_linear(
        as_linear(colours, source)
    )
    # LittleCMS inverts a parametric curve, ours is read from 65536 entries. Near
    # black, where curves are steep, a last digit of light is several codes.
    assert np.abs(fast.astype(int) - exact).max() <= 0.05 * 257


def test_pipeline_to_a_grey_profile_gives_the_luminance(colours):
    """A grey output profile has no table: its curve takes Y."""
    grey = profile_from_bytes(
        imagecodecs.cms_profile("gray", gamma=2.2), where="the codec"
    )
    source = named_profile(NamedSpace.ROMM_RGB)
    wish = {
        "intent": Intent.MEDIA_RELATIVE,
        "black_point_compensation": BlackPointCompensation.OFF,
    }
    fast = linear_to_device(source, grey, **wish).from_linear(
        as_linear(colours, source)
    )
    exact = lcms_convert(colours[None], source, grey, **wish)
    assert fast.shape == exact.shape
    # As for named spaces: near black a power of 1/2.2 is steep.
    assert np.abs(fast.astype(int) - exact).max() <= 0.05 * 257


@pytest.mark.tools("transicc")
def test_pipeline_takes_grey_masters(output, tmp_path):
    grey = profile_from_bytes(
        imagecodecs.cms_profile("gray", gamma=2.2), where="the codec"
    )
    codes = np.linspace(0, 65535, 200).astype(np.uint16)[:, None]
    on = BlackPointCompensation.ON
    fast = linear_to_device(
        grey, output, intent=Intent.MEDIA_RELATIVE, black_point_compensation=on
    ).from_linear(as_linear(codes, grey))
    exact = transicc(codes / 257, grey, output, Intent.MEDIA_RELATIVE, on, tmp_path)
    scale = 100 if output.space == "CMYK" else 255
    assert np.abs(fast / 65535 - np.clip(exact / scale, 0, 1)).max() <= 0.25 / 255


@pytest.mark.parametrize("intent", [Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE])
def test_screen_pipeline_agrees_with_littlecms(colours, output, intent):
    channels = np.resize(colours, (400, output.channels))[None].astype(np.uint16)
    exact = lcms_convert(
        channels,
        output,
        named_profile(NamedSpace.SRGB),
        intent=intent,
        black_point_compensation=BlackPointCompensation.OFF,
    )
    shown = device_to_screen(output, intent).from_device(channels)
    # Half an 8-bit step for rounding.
    assert np.abs(shown - exact / 257).max() <= 0.6


SCREENED = {
    "sRGB": lambda: named_profile(NamedSpace.SRGB),
    "opRGB": lambda: named_profile(NamedSpace.OPRGB),
    "grey": lambda: grey_profile(NamedSpace.SRGB),
    "grey paper": grey_output_profile,
}


@pytest.mark.tools("transicc")
@pytest.mark.parametrize("name", SCREENED)
@pytest.mark.parametrize("intent", [Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE])
def test_screen_pipeline_of_a_matrix_or_grey_agrees_with_transicc(
    colours, name, intent, tmp_path
):
    profile, screen = SCREENED[name](), named_profile(NamedSpace.SRGB)
    device = np.ascontiguousarray(colours[:200, : profile.channels])
    off = BlackPointCompensation.OFF
    exact = transicc(device / 257, profile, screen, intent, off, tmp_path)
    shown = device_to_screen(profile, intent).from_device(device[None])[0]
    # Half an 8-bit step for rounding.
    assert np.abs(shown - np.clip(exact, 0, 255)).max() <= 0.6


def test_pipeline_keeps_paper_white_free_of_ink(output):
    source = named_profile(NamedSpace.ROMM_RGB)
    unprinted = np.ones((3, 1, 1), np.float32)
    for intent in (Intent.PERCEPTUAL, Intent.MEDIA_RELATIVE, Intent.SATURATION):
        done = linear_to_device(
            source,
            output,
            intent=intent,
            black_point_compensation=BlackPointCompensation.ON,
        ).from_linear(unprinted)
        white = 0 if output.space == "CMYK" else 65535
        assert np.abs(done.astype(int) - white).max() <= (output.space == "CMYK")


def test_a_pixel_becomes_the_same_alone_and_among_others(paper_profiles):
    """The window law leans on it."""
    pipeline = linear_to_device(
        named_profile(NamedSpace.ROMM_RGB),
        paper_profiles["Fen Cotton 310"],
        intent=Intent.MEDIA_RELATIVE,
        black_point_compensation=BlackPointCompensation.ON,
    )
    linear = np.random.default_rng(1).random((3, 1, 2000), np.float32)
    together = pipeline.from_linear(linear)[0]
    for size in (1, 2, 3, 5, 8):
        alone = [
            pipeline.from_linear(linear[..., start : start + size])[0]
            for start in range(0, 2000, size)
        ]
        assert np.array_equal(np.concatenate(alone), together), size


PLAIN = {
    "intent": Intent.MEDIA_RELATIVE,
    "black_point_compensation": BlackPointCompensation.OFF,
}


@pytest.mark.parametrize("rows", [1, 2, 61])
@pytest.mark.parametrize("left", [0, 3, 11])
def test_codes_go_to_their_columns_and_nowhere_else(output, rows, left):
    """2500 columns: a row is more than one block of the loop."""
    pipeline = linear_to_device(named_profile(NamedSpace.SRGB), output, **PLAIN)
    linear = np.random.default_rng(4).random((3, rows, 2500), np.float32)
    whole = np.full((rows, 2511, pipeline.channels), 4321, np.uint16)
    given = whole[:, left : left + 2500]
    assert pipeline.from_linear(linear, given) is given
    assert np.array_equal(given, pipeline.from_linear(linear))
    assert (whole[:, :left] == 4321).all()
    assert (whole[:, left + 2500 :] == 4321).all()


@pytest.mark.parametrize(
    "place",
    [
        lambda whole: whole[:, :20],
        lambda whole: whole[:4, :30],
        lambda whole: whole[:, :60:2],
        lambda whole: whole[::-1, :30],
        lambda whole: whole[:, 30:60, ::-1],
        lambda whole: np.resize(whole, (30, 5, 3)).swapaxes(0, 1),
    ],
    ids=["narrow", "low", "each other", "upside down", "backwards", "turned"],
)
def test_codes_without_a_place_are_refused(place):
    target = named_profile(NamedSpace.SRGB)
    pipeline = linear_to_device(target, target, **PLAIN)
    whole = np.zeros((5, 70, 3), np.uint16)
    linear = np.zeros((3, 5, 30), np.float32)
    with pytest.raises(ValueError, match=r"is not|side by side"):
        pipeline.from_linear(linear, place(whole))
