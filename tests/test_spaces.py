"""The named spaces are those of their standards."""

from functools import partial
from io import BytesIO

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageCms

from printplan.colour.icc_file import D50_XYZ, read_icc
from printplan.colour.profiles import profile_from_bytes
from printplan.colour.spaces import (
    RGB_SPACES,
    adaptation_to_d50,
    decode,
    encode,
    lab_from_xyz,
    linear_romm_profile,
    named_profile,
    xyz_d50_from_linear,
    xyz_from_lab,
)
from printplan.colour.transforms import device_to_lab, tone_curves
from printplan.spec import Intent, NamedSpace

D65_SPACES = (NamedSpace.SRGB, NamedSpace.OPRGB)

# Linear RGB to XYZ, four decimals, hence half of the last one. Under D65:
# IEC 61966-2-1:1999 and IEC 61966-2-5:2007 (the latter from memory);
# under D50: ISO 22028-2:2013.
PUBLISHED = {
    NamedSpace.SRGB: [
        [0.4124, 0.3576, 0.1805],
        [0.2126, 0.7152, 0.0722],
        [0.0193, 0.1192, 0.9505],
    ],
    NamedSpace.OPRGB: [
        [0.5767, 0.1856, 0.1882],
        [0.2973, 0.6274, 0.0753],
        [0.0270, 0.0707, 0.9913],
    ],
    NamedSpace.ROMM_RGB: [
        [0.7977, 0.1352, 0.0313],
        [0.2880, 0.7119, 0.0001],
        [0.0000, 0.0000, 0.8249],
    ],
}
PUBLISHED_ATOL = 5.5e-5


@pytest.mark.parametrize("space", NamedSpace)
def test_matrix_is_the_published_one(space):
    back = np.linalg.inv(adaptation_to_d50(RGB_SPACES[space].white_xyz))
    matrix = back @ xyz_d50_from_linear(space)
    assert matrix == pytest.approx(np.array(PUBLISHED[space]), abs=PUBLISHED_ATOL)


@pytest.mark.parametrize("space", NamedSpace)
def test_matrix_agrees_with_colour_science(space):
    numbers = RGB_SPACES[space]
    primaries = [numbers.red_xy, numbers.green_xy, numbers.blue_xy]
    white_xy = colour.XYZ_to_xy(np.array(numbers.white_xyz))
    matrix = colour.normalised_primary_matrix(primaries, white_xy)
    adapted = (
        colour.adaptation.matrix_chromatic_adaptation_VonKries(
            numbers.white_xyz, D50_XYZ, transform="Bradford"
        )
        @ matrix
    )
    assert xyz_d50_from_linear(space) == pytest.approx(adapted, abs=1e-9)


@pytest.mark.parametrize("space", NamedSpace)
def test_white_is_d50(space):
    white = xyz_d50_from_linear(space).sum(axis=1)
    assert white == pytest.approx(np.array(D50_XYZ), abs=1e-12)


# Closed forms of the same standards, written by others.
@pytest.mark.parametrize(
    ("space", "decoded"),
    [
        (NamedSpace.SRGB, partial(colour.cctf_decoding, function="sRGB")),
        (NamedSpace.ROMM_RGB, partial(colour.cctf_decoding, function="ROMM RGB")),
        (NamedSpace.OPRGB, lambda codes: codes ** (563 / 256)),
    ],
)
def test_tone_curve_agrees_with_colour_science(space, decoded):
    codes = np.linspace(0, 1, 4097)
    assert decode(space, codes) == pytest.approx(decoded(codes), abs=1e-9)


def test_romm_toe_meets_its_power_law():
    # ISO 22028-2:2013: the toe ends at 16^(1.8/(1-1.8)) = 1/512, with slope 16.
    end = 16 ** (1.8 / (1 - 1.8))
    codes = np.array([16 * end - 1e-12, 16 * end, 8 * end])
    linear = np.array([end, end, end / 2])
    assert decode(NamedSpace.ROMM_RGB, codes) == pytest.approx(linear, rel=1e-9)


@given(code=st.floats(-0.5, 1.5), space=st.sampled_from(NamedSpace))
def test_encoding_undoes_decoding(code, space):
    there = decode(space, np.array([code]))
    assert encode(space, there)[0] == pytest.approx(code, abs=2e-6)


@pytest.mark.slow
@pytest.mark.parametrize("space", NamedSpace)
def test_littlecms_reads_the_same_tone_curve(space):
    # s15Fixed16Number rounds the exponent to 8e-6, hence the tolerance.
    expected = decode(space, np.arange(65536) / 65535)
    curves = tone_curves(named_profile(space))
    assert curves == pytest.approx(np.tile(expected, (3, 1)), abs=1e-5)


@pytest.mark.parametrize("space", NamedSpace)
def test_profile_reads_in_pillow(space):
    opened = ImageCms.ImageCmsProfile(BytesIO(named_profile(space).data)).profile
    assert opened.profile_description == RGB_SPACES[space].title
    assert opened.version == pytest.approx(4.4)
    assert opened.device_class == "mntr"
    assert opened.is_matrix_shaper


def test_srgb_is_the_srgb_of_littlecms():
    theirs = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    pixels = np.random.default_rng(5).integers(0, 65536, (50, 50, 3), np.uint16)
    ours = device_to_lab(
        pixels, named_profile(NamedSpace.SRGB), intent=Intent.MEDIA_RELATIVE
    )
    other = device_to_lab(
        pixels,
        profile_from_bytes(theirs, where="LittleCMS"),
        intent=Intent.MEDIA_RELATIVE,
    )
    # Fixed-point colorants on both sides move blue by some hundredths.
    assert ours == pytest.approx(other, abs=0.05)


@pytest.mark.parametrize("space", NamedSpace)
@pytest.mark.parametrize("level", [65535, 30000])
def test_equal_channels_are_neutral(space, level):
    grey = np.full((1, 1, 3), level, np.uint16)
    lab = device_to_lab(grey, named_profile(space), intent=Intent.MEDIA_RELATIVE)
    assert np.abs(lab[0, 0, 1:]).max() < 1e-3
    if level == 65535:
        assert lab[0, 0, 0] == pytest.approx(100.0, abs=1e-3)


@pytest.mark.parametrize("space", [*RGB_SPACES, None])
def test_full_code_is_d50_to_the_last_bit(space):
    """Colorants as s15Fixed16 numbers (ICC.1:2022, 4.6), and their sum."""
    profile = named_profile(space) if space else linear_romm_profile()
    tags = read_icc(profile.data, where=profile.name).tags
    steps = [np.frombuffer(tags[it], ">i4", 3, 8) for it in ("rXYZ", "gXYZ", "bXYZ")]
    assert (np.sum(steps, axis=0) == np.round(np.array(D50_XYZ) * 65536)).all()


def test_linear_romm_has_the_primaries_and_no_curve():
    curves = tone_curves(linear_romm_profile())
    assert curves[0] == pytest.approx(np.arange(65536) / 65535, abs=1e-6)
    red = np.array([[[65535, 0, 0]]], np.uint16)
    assert device_to_lab(
        red, linear_romm_profile(), intent=Intent.MEDIA_RELATIVE
    ) == pytest.approx(
        device_to_lab(
            red, named_profile(NamedSpace.ROMM_RGB), intent=Intent.MEDIA_RELATIVE
        ),
        abs=1e-6,
    )


# CIE L* of density D, where Y = 10^-D: 116·Y^(1/3) - 16 in the arithmetic of
# ISO/CIE 11664-4; three decimals, hence half of the last one.
@pytest.mark.parametrize(("density", "lightness"), [(2.0, 8.991), (1.6, 17.972)])
def test_lightness_of_a_density(density, lightness):
    lab = lab_from_xyz(np.array(D50_XYZ) * 10.0**-density)
    assert lab == pytest.approx(np.array([lightness, 0, 0]), abs=5e-4)


def test_cielab_agrees_with_colour_science():
    xyz = np.random.default_rng(8).random((200, 3)) ** 3
    white_xy = colour.XYZ_to_xy(np.array(D50_XYZ))
    assert lab_from_xyz(xyz) == pytest.approx(
        colour.XYZ_to_Lab(xyz, white_xy), abs=1e-8
    )


@given(
    lab=st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120)),
)
def test_cielab_comes_back(lab):
    assert lab_from_xyz(xyz_from_lab(np.array(lab))) == pytest.approx(
        np.array(lab), abs=1e-8
    )
