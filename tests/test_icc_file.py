"""Profiles are laid out as the standard says, and damage is told apart."""

import hashlib
import struct
from contextlib import suppress
from io import BytesIO
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageCms

from printplan.colour.icc_file import (
    D50_XYZ,
    IccHeader,
    description_element,
    fixed_element,
    fixed_numbers,
    gamma_curve_element,
    identity_curve_element,
    localized_element,
    lut16_element,
    profile_id,
    read_icc,
    read_numbers,
    read_text,
    sampled_curve_element,
    signature_element,
    stages_element,
    text_element,
    toe_curve_element,
    write_icc,
    xyz_element,
)
from printplan.errors import ProfileError

FOGRA39 = (Path(__file__).parent / "data" / "FOGRA39L_coated.icc").read_bytes()

MATRIX = IccHeader(version=(4, 4), device_class="mntr", space="RGB", pcs="XYZ")
OUTPUT = IccHeader(version=(2, 4), device_class="prtr", space="RGB", pcs="Lab")

SIGNATURES = st.text("abcdefghijklmnopqrstuvwxyzABCXYZ0123", min_size=4, max_size=4)
ELEMENTS = st.binary(min_size=8, max_size=40)


def matrix_tags(name="Test space"):
    curve = identity_curve_element()
    return {
        "desc": localized_element(name),
        "cprt": localized_element("No rights reserved."),
        "wtpt": xyz_element(D50_XYZ),
        "rXYZ": xyz_element((0.4360, 0.2225, 0.0139)),
        "gXYZ": xyz_element((0.3851, 0.7169, 0.0971)),
        "bXYZ": xyz_element((0.1431, 0.0606, 0.7139)),
        "rTRC": curve,
        "gTRC": curve,
        "bTRC": curve,
    }


def tag_rows(data):
    (count,) = struct.unpack_from(">I", data, 128)
    return list(struct.iter_unpack(">4sII", data[132 : 132 + 12 * count]))


def test_header_fields_lie_where_the_standard_puts_them():
    # ICC.1:2022, 7.2: offsets of the header table; 7.2.16 gives D50 in hexadecimal.
    data = write_icc(MATRIX, matrix_tags())
    assert struct.unpack_from(">I", data)[0] == len(data)
    assert data[8:10] == b"\x04\x40"
    assert data[12:24] == b"mntrRGB XYZ "
    assert data[36:40] == b"acsp"
    assert data[68:80] == bytes.fromhex("0000F6D6 00010000 0000D32D")
    assert data[100:128] == bytes(28)


# ICC.1:2022, 4.6, the examples of s15Fixed16Number.
@pytest.mark.parametrize(
    ("value", "code"),
    [
        (-32768.0, "80000000"),
        (0.0, "00000000"),
        (1.0, "00010000"),
        (32767 + 65535 / 65536, "7FFFFFFF"),
    ],
)
def test_fixed_numbers_are_those_of_the_standard(value, code):
    assert fixed_element([value])[8:] == bytes.fromhex(code)
    assert read_numbers(fixed_element([value])) == (value,)


def test_numbers_too_large_for_the_format_are_refused():
    with pytest.raises(ProfileError, match="Give a value from -32768"):
        fixed_numbers([32768.0])


def test_elements_begin_on_multiples_of_four():
    # ICC.1:2022, 7.2.1.
    tags = {"aaaa": bytes(9), "bbbb": bytes(10), "cccc": bytes(13)}
    data = write_icc(MATRIX, tags)
    assert all(offset % 4 == 0 for _name, offset, _size in tag_rows(data))
    assert [size for _name, _offset, size in tag_rows(data)] == [9, 10, 13]
    assert len(data) % 4 == 0


def test_equal_elements_are_stored_once():
    # ICC.1:2022, 7.3.1 allows tags to share an element.
    offsets = {name: offset for name, offset, _size in tag_rows(FOGRA39)}
    assert len(offsets) > 8
    rows = tag_rows(write_icc(MATRIX, matrix_tags()))
    offsets = {name: offset for name, offset, _size in rows}
    assert offsets[b"rTRC"] == offsets[b"gTRC"] == offsets[b"bTRC"]
    assert offsets[b"rXYZ"] != offsets[b"gXYZ"]


def test_the_same_profile_is_the_same_bytes():
    assert write_icc(MATRIX, matrix_tags()) == write_icc(MATRIX, matrix_tags())


def test_version_4_carries_the_hash_of_its_content_and_version_2_none():
    # ICC.1:2022, 7.2.18: MD5 with bytes 44-47, 64-67 and 84-99 set to zero.
    data = write_icc(MATRIX, matrix_tags())
    blank = bytearray(data)
    for start, stop in ((44, 48), (64, 68), (84, 100)):
        blank[start:stop] = bytes(stop - start)
    assert data[84:100] == hashlib.md5(blank, usedforsecurity=False).digest()
    assert profile_id(data) == data[84:100]
    assert write_icc(OUTPUT, matrix_tags())[84:100] == bytes(16)


def test_pillow_reads_the_same_profile():
    data = write_icc(MATRIX, matrix_tags("Pillow's view"))
    opened = ImageCms.ImageCmsProfile(BytesIO(data)).profile
    assert opened.profile_description == "Pillow's view"
    assert opened.copyright == "No rights reserved."
    assert opened.version == pytest.approx(4.4)
    assert opened.device_class == "mntr"
    assert opened.connection_space == "XYZ "
    # s15Fixed16Number has 16 binary places, hence half of the last one:
    assert opened.red_colorant[0] == pytest.approx((0.4360, 0.2225, 0.0139), abs=8e-6)


def test_an_outside_profile_reads_as_pillow_reads_it():
    opened = ImageCms.ImageCmsProfile(BytesIO(FOGRA39)).profile
    icc = read_icc(FOGRA39, where="test")
    assert read_text(icc.tags["desc"]) == opened.profile_description
    assert read_text(icc.tags["cprt"]) == opened.copyright
    assert read_numbers(icc.tags["wtpt"]) == pytest.approx(opened.media_white_point[0])
    assert icc.header.device_class == opened.device_class == "prtr"
    assert (icc.header.space, icc.header.pcs) == ("CMYK", "Lab")


@settings(max_examples=50)
@given(tags=st.dictionaries(SIGNATURES, ELEMENTS, max_size=6))
def test_a_profile_comes_apart_as_it_was_put_together(tags):
    icc = read_icc(write_icc(OUTPUT, tags), where="test")
    assert dict(icc.tags) == tags
    assert icc.header == OUTPUT


def test_padding_after_a_profile_is_not_damage():
    data = write_icc(MATRIX, matrix_tags())
    assert read_icc(data + bytes(3), where="test").header == MATRIX


def changed(data, offset, field):
    return data[:offset] + field + data[offset + len(field) :]


SOUND = write_icc(MATRIX, matrix_tags())


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b"", "it has 0 bytes"),
        (SOUND[:131], "it has 131 bytes"),
        (changed(SOUND, 36, b"abcd"), "'acsp' is missing"),
        (SOUND[:-4], "declares"),
        (SOUND + bytes(4), "declares"),
        (changed(SOUND, 128, b"\x7f\xff\xff\xff"), "table of 2147483647 tags"),
        (changed(SOUND, 136, b"\x7f\xff\xff\xff"), "claims bytes"),
        (changed(SOUND, 136, b"\x00\x00\x00\x04"), "claims bytes"),
        (changed(SOUND, 140, b"\x7f\xff\xff\xff"), "claims bytes"),
        (changed(SOUND, 140, b"\x00\x00\x00\x03"), "claims bytes"),
        (changed(SOUND, 144, b"desc"), "appears twice"),
    ],
)
def test_damage_is_named_and_has_a_remedy(data, problem):
    with pytest.raises(ProfileError, match="Fetch the profile again") as caught:
        read_icc(data, where="a test")
    assert problem in caught.value.problem
    assert "a test" in caught.value.problem


@settings(max_examples=200)
@given(place=st.integers(0, 1999), byte=st.integers(0, 255))
def test_any_wrong_byte_is_read_or_refused_but_never_crashes(place, byte):
    data = bytearray(FOGRA39)
    data[place] = byte
    with suppress(ProfileError):
        for element in read_icc(bytes(data), where="test").tags.values():
            with suppress(ProfileError):
                read_text(element)


def test_english_is_preferred_among_languages():
    # ICC.1:2022, 10.15: records of language, country, length, offset.
    german, english = ("Papier".encode("utf-16-be"), "Paper".encode("utf-16-be"))
    head = struct.pack(">4sIII", b"mluc", 0, 2, 12)
    rows = struct.pack(">2s2sII", b"de", b"DE", len(german), 40)
    rows += struct.pack(">2s2sII", b"en", b"GB", len(english), 40 + len(german))
    assert read_text(head + rows + german + english) == "Paper"
    assert read_text(head[:8] + struct.pack(">II", 1, 12) + rows + german) == "Papier"


@pytest.mark.parametrize(
    "write", [description_element, localized_element, text_element]
)
def test_text_comes_back(write):
    assert read_text(write("Fen Cotton 310")) == "Fen Cotton 310"


def test_text_beyond_ascii_is_kept_where_the_format_has_room():
    assert read_text(localized_element("Büttenpapier")) == "Büttenpapier"
    with pytest.raises(ProfileError, match="unaccented"):
        description_element("Büttenpapier")


@pytest.mark.parametrize(
    "element",
    [
        signature_element("ijet"),
        b"desc",
        b"mluc" + bytes(12),
        b"mluc" + bytes(4) + struct.pack(">II2s2sII", 1, 12, b"en", b"US", 99, 28),
    ],
)
def test_what_is_no_text_is_refused(element):
    with pytest.raises(ProfileError, match="Fetch the profile again"):
        read_text(element)


def test_what_is_no_number_is_refused():
    with pytest.raises(ProfileError, match="Fetch the profile again"):
        read_numbers(text_element("12"))


@pytest.mark.parametrize("signature", ["toolong", "ä"])
def test_a_wrong_signature_is_refused(signature):
    with pytest.raises(ProfileError, match="up to four ASCII letters"):
        write_icc(MATRIX, {signature: bytes(8)})


def test_a_sampled_curve_reads_as_littlecms_reads_it():
    codes = np.round(np.linspace(0, 1, 256) ** 2 * 65535).astype(np.uint16)
    tags = matrix_tags() | dict.fromkeys(
        ("rTRC", "gTRC", "bTRC"), sampled_curve_element(codes)
    )
    xyz = imagecodecs.cms_transform(
        np.full((1, 1, 3), 32768, np.uint16),
        write_icc(MATRIX, tags),
        imagecodecs.cms_profile("xyz"),
        colorspace="rgb",
        outcolorspace="xyz",
        outdtype="float64",
        intent=1,
        flags=0x0100,
    )
    # Y of grey is the square of its code; the curve is straight between 256 points.
    assert xyz[0, 0, 1] == pytest.approx((32768 / 65535) ** 2, abs=1e-4)


def test_a_16_bit_table_means_what_the_standard_says():
    # ICC.1:2001-04, 6.5.7: L* = 100 is FF00h, a* = b* = 0 is 8000h, one a* is 0100h.
    grid = np.full((2, 2, 2, 3), 0x8000, np.uint16)
    grid[..., 0] = 0xFF00
    grid[0, :, :, 1] = 0x8000 + 20 * 0x0100
    grid[:, :, 0, 2] = 0x8000 - 30 * 0x0100
    straight = np.tile(np.array([0, 65535], np.uint16), (3, 1))
    tags = {
        "desc": description_element("Table"),
        "wtpt": xyz_element(D50_XYZ),
        "A2B0": lut16_element(straight, grid, straight),
    }
    device = np.array([[[0, 0, 65535], [65535, 0, 0], [65535, 0, 65535]]], np.uint16)
    lab = imagecodecs.cms_transform(
        device,
        write_icc(OUTPUT, tags),
        imagecodecs.cms_profile("lab4"),
        colorspace="rgb",
        outcolorspace="lab",
        outdtype="float64",
        intent=1,
        flags=0x0100,
    )
    expected = [[100, 20, 0], [100, 0, -30], [100, 0, 0]]
    # One code of 16 bits is 0.004 of a*.
    assert lab[0] == pytest.approx(np.array(expected), abs=0.005)


def test_a_table_of_the_wrong_shape_is_refused():
    straight = np.tile(np.array([0, 65535], np.uint16), (3, 1))
    with pytest.raises(ProfileError, match=r"Give it the shape \(2, 2, 2, 3\)"):
        lut16_element(straight, np.zeros((2, 2, 3, 3), np.uint16), straight)


# The stages of lutAToBType and lutBToAType (ICC.1:2022, 10.12 and 10.13), each a
# function with a closed form. Corners of the grid hold a multilinear function, which
# tetrahedra and cells alike give back where it is linear.
LINEAR = np.array([[0.5, 0.2, 0.1], [0.1, 0.6, 0.2], [0.05, 0.25, 0.4]])
START = np.array([0.1, 0.05, 0.2])
MATRIX_34 = np.array(
    [[0.75, 0.125, 0.0, 0.0625], [0.0, 0.5, 0.25, 0.125], [0.25, 0.0, 0.5, 0.03125]]
)
A_POWERS, M_POWERS, B_POWERS = (2.0, 1.5, 0.75), (0.5, 2.0, 1.25), (1.5, 0.8, 2.0)
TOE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1


def linear_grid(points):
    steps = [np.linspace(0, 1, count) for count in points]
    corners = np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1)
    return np.round((corners @ LINEAR.T + START) * 65535).astype(np.uint16)


def powers(gammas):
    return [gamma_curve_element(gamma) for gamma in gammas]


def toe(value):
    g, a, b, c, d = TOE
    return np.where(value < d, value * c, (a * value + b) ** g)


def some_colours():
    return np.random.default_rng(7).random((1, 500, 3))


STAGES = {
    "A": lambda values: values**A_POWERS,
    "grid": lambda values: values @ LINEAR.T + START,
    "M": lambda values: values**M_POWERS,
    "matrix": lambda values: values @ MATRIX_34[:, :3].T + MATRIX_34[:, 3],
    "B": lambda values: values**B_POWERS,
    "toe": toe,
}
ELEMENT_STAGES = {
    "a": powers(A_POWERS),
    "grid": linear_grid((5, 3, 9)),
    "m": powers(M_POWERS),
    "matrix": MATRIX_34,
    "b": powers(B_POWERS),
}
COMBINATIONS = pytest.mark.parametrize(
    ("names", "stages"),
    [
        ("b", ("B",)),
        ("m matrix b", ("M", "matrix", "B")),
        ("a grid b", ("A", "grid", "B")),
        ("a grid m matrix b", ("A", "grid", "M", "matrix", "B")),
    ],
)


def v4_profile(**tags):
    header = IccHeader(version=(4, 4), device_class="prtr", space="RGB", pcs="Lab")
    common = {
        "desc": localized_element("Stages"),
        "cprt": localized_element("No rights reserved."),
        "wtpt": xyz_element(D50_XYZ),
    }
    return write_icc(header, common | tags)


def to_lab(device, profile):
    """What LittleCMS reads, through the profile's stages one by one."""
    return imagecodecs.cms_transform(
        np.round(device * 65535).astype(np.uint16),
        profile,
        imagecodecs.cms_profile("lab4"),
        colorspace="rgb",
        outcolorspace="lab",
        outdtype="float64",
        intent=1,
        flags=0x0100,
    )


# LittleCMS rounds to 16 bits in front of and behind the grid; the steepest curve,
# a root of values from 0.05 up, makes 2.3 codes of one: 0.004 of a*, so 0.02 for all.
STAGE_ROUNDING = 0.02


@COMBINATIONS
def test_a_colour_goes_through_all_stages_from_the_device(names, stages):
    element = stages_element("mAB", **{n: ELEMENT_STAGES[n] for n in names.split()})
    device = np.round(some_colours() * 65535) / 65535
    expected = device
    for stage in stages:
        expected = STAGES[stage](expected)
    # ICC.1:2022, 6.3.4.2: L* 0 to 100, a* and b* -128 to 127.
    expected = expected * [100, 255, 255] - [0, 128, 128]
    found = to_lab(device, v4_profile(A2B0=element))
    assert found == pytest.approx(expected, abs=STAGE_ROUNDING)


@COMBINATIONS
def test_a_colour_goes_through_all_stages_to_the_device(names, stages):
    element = stages_element("mBA", **{n: ELEMENT_STAGES[n] for n in names.split()})
    coded = some_colours()
    expected = coded
    for stage in stages[::-1]:
        expected = STAGES[stage](expected)
    found = imagecodecs.cms_transform(
        coded * [100, 255, 255] - [0, 128, 128],
        imagecodecs.cms_profile("lab4"),
        v4_profile(B2A0=element),
        colorspace="lab",
        outcolorspace="rgb",
        outdtype="uint16",
        intent=1,
        flags=0x0100,
    )
    assert found / 65535 == pytest.approx(expected, abs=STAGE_ROUNDING / 100)


def test_curves_of_other_types_stand_among_the_stages():
    sampled = np.round(np.linspace(0, 1, 255) ** 2 * 65535).astype(np.uint16)
    element = stages_element(
        "mAB",
        a=[toe_curve_element(*TOE), identity_curve_element(), gamma_curve_element(2)],
        grid=linear_grid((3, 3, 3)),
        # An odd count of entries leaves two bytes to fill.
        b=[identity_curve_element(), sampled_curve_element(sampled), *powers([1.5])],
    )
    device = np.round(some_colours() * 65535) / 65535
    red, green, blue = np.moveaxis(device, -1, 0)
    first, second, third = np.moveaxis(
        STAGES["grid"](np.stack([toe(red), green, blue**2], axis=-1)), -1, 0
    )
    expected = np.stack([first, second**2, third**1.5], axis=-1)
    found = to_lab(device, v4_profile(A2B0=element))
    assert found == pytest.approx(
        expected * [100, 255, 255] - [0, 128, 128], abs=STAGE_ROUNDING
    )


def test_stages_lie_where_the_standard_puts_them():
    # ICC.1:2022, 10.12.1: offsets of B, matrix, M, grid and A, from the type's start.
    element = stages_element("mAB", **ELEMENT_STAGES)
    assert element[:12] == b"mAB \0\0\0\0\3\3\0\0"
    b, matrix, m, grid, a = struct.unpack_from(">5I", element, 12)
    assert all(offset % 4 == 0 for offset in (b, matrix, m, grid, a))
    assert element[b : b + 4] == element[m : m + 4] == element[a : a + 4] == b"para"
    assert read_numbers(b"sf32" + bytes(4) + element[matrix : matrix + 48]) == (
        *MATRIX_34[:, :3].ravel(),
        *MATRIX_34[:, 3],
    )
    assert element[grid : grid + 20] == bytes([5, 3, 9, *[0] * 13, 2, 0, 0, 0])
    alone = stages_element("mBA", b=powers(B_POWERS))
    assert struct.unpack_from(">5I", alone, 12) == (32, 0, 0, 0, 0)


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        ({"m": ()}, "with a matrix"),
        ({"matrix": None}, "3 M and 3 B curves without a matrix"),
        ({"a": ()}, "with a grid"),
        ({"grid": None}, "without a grid"),
        ({"b": ()}, "0 B curves"),
        ({"grid": np.zeros((2, 2, 3), np.uint16)}, "3 channels to 3"),
        ({"grid": np.zeros((2, 2, 2, 4), np.uint16)}, "3 channels to 3"),
        ({"m": powers([1.0])}, "1 M and 3 B"),
    ],
)
def test_stages_that_no_profile_has_are_refused(changes, problem):
    with pytest.raises(ProfileError, match=r"Give") as caught:
        stages_element("mAB", **(ELEMENT_STAGES | changes))
    assert problem in caught.value.problem
