"""Files whose inner addresses lie before their beginning or behind their end."""

import struct

import numpy as np
import pytest
from test_master_file import NOISE, SRGB, png, tiff_bytes

from printplan.colour.icc_file import (
    fixed_element,
    identity_curve_element,
    read_icc,
    read_numbers,
    stages_element,
)
from printplan.colour.icc_tables import read_lut
from printplan.errors import MasterError, ProfileError
from printplan.pixels.master import open_master
from printplan.sizing.boxes import Box

# TIFF 6.0, section 2: types of fields, and those of BigTIFF's 64-bit numbers.
SIGNED, SIGNED_64 = 9, 17
STRIPS, STRIP_BYTES, TILES, PROFILE = 273, 279, 324, 34675
CLASSIC = tiff_bytes(NOISE)
PACKED = tiff_bytes(NOISE, compression="deflate", rowsperstrip=64)
LARGE = tiff_bytes(NOISE, bigtiff=True)
TILED = tiff_bytes(NOISE, compression="deflate", tile=(64, 64))


def entry_of(data, code):
    """Place of a field in the first directory, and whether its numbers have 64 bits."""
    is_big = data[2] == 43
    first, count, length, head = ("<Q", "<Q", 20, 8) if is_big else ("<I", "<H", 12, 2)
    (at,) = struct.unpack_from(first, data, 8 if is_big else 4)
    (fields,) = struct.unpack_from(count, data, at)
    for place in range(at + head, at + head + length * fields, length):
        if struct.unpack_from("<H", data, place)[0] == code:
            return place, is_big
    raise AssertionError(code)


def with_number(data, code, number):
    """A single number in a field, signed where it lies below 0."""
    place, is_big = entry_of(data, code)
    kind = (SIGNED_64 if is_big else SIGNED) if number < 0 else (16 if is_big else 4)
    form = ("<HQq" if number < 0 else "<HQQ") if is_big else "<HIi"
    form = form if number < 0 or is_big else "<HII"
    changed = struct.pack(form, kind, 1, number)
    return data[: place + 2] + changed + data[place + 2 + len(changed) :]


def with_address(data, code, number):
    """Where the value of a field lies that is too long for its directory."""
    place, is_big = entry_of(data, code)
    form, value = ("<Q", place + 12) if is_big else ("<I", place + 8)
    field = struct.pack(form, number)
    return data[:value] + field + data[value + len(field) :]


def with_first_page(data, number):
    form, place = ("<Q", 8) if data[2] == 43 else ("<I", 4)
    field = struct.pack(form, number)
    return data[:place] + field + data[place + len(field) :]


REFUSED_TIFFS = {
    "pixels before the file": with_number(CLASSIC, STRIPS, -1),
    "pixels far before the file": with_number(CLASSIC, STRIPS, -(2**31)),
    "packed pixels before the file": with_number(PACKED, STRIPS, -1),
    "packed pixels far before the file": with_number(PACKED, STRIPS, -(2**31)),
    "tiles before the file": with_number(TILED, TILES, -40),
    "pixels before a large file": with_number(LARGE, STRIPS, -(2**63)),
    "pixels behind the file": with_number(CLASSIC, STRIPS, 2**32 - 1),
    "packed pixels behind the file": with_number(PACKED, STRIPS, 2**32 - 1),
    "tiles behind the file": with_number(TILED, TILES, len(TILED)),
    "pixels behind a large file": with_number(LARGE, STRIPS, 2**63),
    "pixels end behind the file": with_number(CLASSIC, STRIPS, len(CLASSIC) - 1),
    "fewer than no bytes": with_number(PACKED, STRIP_BYTES, -9),
    "bytes without an end": with_number(PACKED, STRIP_BYTES, 2**32 - 1),
    "first page behind the file": with_first_page(CLASSIC, 2**32 - 2),
    "first page behind a large file": with_first_page(LARGE, 2**64 - 2),
    "first page in the header": with_first_page(CLASSIC, 0),
}


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("case", REFUSED_TIFFS)
def test_a_tiff_with_an_address_that_cannot_be_is_refused(case, tmp_path):
    path = tmp_path / "master.tif"
    path.write_bytes(REFUSED_TIFFS[case])
    with pytest.raises(MasterError) as caught:
        open_master(path, cache_folder=tmp_path / "cache")
    assert caught.value.remedy.startswith(("Copy or download", "Export it again"))


@pytest.mark.parametrize(
    "data",
    [with_address(CLASSIC, PROFILE, 2**32 - 1), with_address(LARGE, PROFILE, 2**63)],
    ids=["classic", "large"],
)
def test_a_tiff_whose_profile_lies_behind_it_is_refused(data, tmp_path):
    path = tmp_path / "master.tif"
    path.write_bytes(data)
    with pytest.raises(ProfileError, match="export it again with its profile"):
        open_master(path, cache_folder=tmp_path / "cache")


def test_the_files_of_these_tests_are_masters_before_they_are_changed(tmp_path):
    for number, data in enumerate((CLASSIC, PACKED, LARGE, TILED)):
        path = tmp_path / f"{number}.tif"
        path.write_bytes(data)
        with open_master(path, cache_folder=tmp_path / "cache") as master:
            assert master.linear(Box(0, 0, 64, 64)).shape == (3, 64, 64)


@pytest.mark.parametrize("length", [2**31 - 1, 2**31, 2**32 - 1])
@pytest.mark.parametrize("name", [b"IHDR", b"iCCP", b"IDAT"])
def test_a_png_chunk_that_ends_behind_its_file_is_refused(name, length, tmp_path):
    """ISO/IEC 15948, 5.3: a length is at most 2^31 - 1; more would be negative."""
    data = png(NOISE)
    at = data.index(name) - 4
    path = tmp_path / "master.png"
    path.write_bytes(data[:at] + struct.pack(">I", length) + data[at + 4 :])
    with pytest.raises(MasterError) as caught:
        open_master(path, cache_folder=tmp_path / "cache")
    assert caught.value.remedy.startswith("Copy or download the file again")


# ICC.1:2022, 7.3: number of tags at 128, then signature, offset and size of each.
@pytest.mark.parametrize(
    "number", [0, 1, 131, len(SRGB) - 7, len(SRGB), 2**31, 2**32 - 1]
)
@pytest.mark.parametrize("field", [136, 140], ids=["offset", "size"])
def test_a_profile_s_tag_outside_it_is_refused(field, number):
    if field == 140 and number in {131, 1, 0}:
        number = number % 8
    damaged = SRGB[:field] + struct.pack(">I", number) + SRGB[field + 4 :]
    with pytest.raises(ProfileError, match="Fetch the profile again") as caught:
        read_icc(damaged, where="a test")
    assert "claims bytes" in caught.value.problem


STAGES = stages_element(
    "mBA",
    b=[identity_curve_element()] * 3,
    matrix=np.array([[0.9, 0.05, 0, 0], [0, 0.8, 0.1, 0], [0.05, 0, 0.85, 0]]),
    m=[identity_curve_element()] * 3,
    grid=np.zeros((3, 3, 3, 3), np.uint16),
    a=[identity_curve_element()] * 3,
)


# ICC.1:2022, 10.13: offsets of B, matrix, M, grid and A at 12, 16, 20, 24 and 28.
@pytest.mark.parametrize("number", ["its end", 2**31 - 1, 2**31, 2**32 - 1])
@pytest.mark.parametrize("part", ["B", "matrix", "M", "grid", "A"])
def test_a_table_s_stage_outside_it_is_refused(part, number):
    assert read_lut(STAGES, where="a test").inputs == 3
    at = 12 + 4 * ["B", "matrix", "M", "grid", "A"].index(part)
    offset = len(STAGES) if number == "its end" else number
    damaged = STAGES[:at] + struct.pack(">I", offset) + STAGES[at + 4 :]
    with pytest.raises(ProfileError, match="this one is damaged"):
        read_lut(damaged, where="a test")


def test_numbers_end_with_their_element():
    assert read_numbers(fixed_element([1, 2])[:-1]) == (1.0,)
