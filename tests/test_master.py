"""The picture in linear light, from every layout a master can have."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib
from concurrent.futures import ThreadPoolExecutor
from itertools import product

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from printplan.colour.icc_file import IccHeader, write_icc
from printplan.colour.spaces import named_profile
from printplan.errors import MasterError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.resampled_light import ResampledLight
from printplan.sizing.boxes import Box
from printplan.sizing.print_size import Crop
from printplan.sizing.resampling import resample_plane
from printplan.spec import AlphaRule, NamedSpace

SRGB = named_profile(NamedSpace.SRGB).data
# A power of exactly 2 is exact in every ICC curve type: closed forms follow.
SQUARE_RGB = imagecodecs.cms_profile(
    "rgb",
    whitepoint=(0.3457, 0.3585, 1.0),
    primaries=(0.64, 0.33, 1.0, 0.30, 0.60, 1.0, 0.15, 0.06, 1.0),
    gamma=2.0,
)
SQUARE_GREY = imagecodecs.cms_profile("gray", gamma=2.0)

# Curve, matrix product, quotient by the full scale and the table itself are float32:
# four roundings of at most 2**-24 of the value.
FLOAT_ATOL = 2.4e-7
# s15Fixed16 parameters are within 2**-17; scale and offset act 2.4-fold at white:
# 2.4 · 2 · 2**-17 = 3.7e-5.
SRGB_ATOL = 4e-5

ROWS, COLUMNS = 70, 90


def srgb_light(encoded):
    """IEC 61966-2-1:1999, 5.2: from encoded value to linear light."""
    encoded = np.asarray(encoded, np.float64)
    return np.where(
        encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4
    )


def picture(dtype, channels=3, seed=1):
    numbers = np.random.default_rng(seed).random((ROWS, COLUMNS, channels))
    numbers[0, :8] = np.linspace(0, 1, 8)[:, None]
    if np.dtype(dtype).kind == "f":
        return numbers.astype(dtype)
    return np.round(numbers * np.iinfo(dtype).max).astype(dtype)


def share(pixels):
    """Stored numbers on a scale of 0 to 1."""
    if pixels.dtype.kind == "f":
        return pixels.astype(np.float64)
    return pixels / np.iinfo(pixels.dtype).max


def planes(pixels):
    return pixels.transpose(2, 0, 1)


def whole(master):
    return master.linear(Box(0, 0, master.facts.width_px, master.facts.height_px))


def write_tiff(path, pixels, **tags):
    """An RGB or grey TIFF; planes are parted when asked."""
    tags.setdefault("iccprofile", SRGB)
    tags.setdefault("photometric", "rgb" if pixels.shape[2] >= 3 else "minisblack")
    if tags.get("planarconfig") == "separate":
        pixels = np.ascontiguousarray(planes(pixels))
    elif pixels.shape[2] == 1:
        pixels = pixels[..., 0]
    tifffile.imwrite(path, pixels, **tags)
    return path


def png_with(data, *chunks):
    """A PNG with more chunks behind its header (ISO/IEC 15948, 5.3)."""
    added = b"".join(
        struct.pack(">I", len(content))
        + name
        + content
        + struct.pack(">I", zlib.crc32(name + content))
        for name, content in chunks
    )
    return data[:33] + added + data[33:]


def icc_chunk(profile):
    return b"iCCP", b"working space\0\0" + zlib.compress(profile)


def write_png(path, pixels, *chunks, profile=SRGB):
    squeezed = pixels[..., 0] if pixels.shape[2] == 1 else pixels
    data = imagecodecs.png_encode(np.ascontiguousarray(squeezed))
    path.write_bytes(png_with(data, icc_chunk(profile), *chunks))
    return path


@pytest.fixture
def opened(tmp_path):
    """Open masters with a cache of their own; close them at the end."""
    masters = []

    def open_one(path, **wishes):
        masters.append(open_master(path, cache_folder=tmp_path / "cache", **wishes))
        return masters[-1]

    yield open_one
    for master in masters:
        master.close()


LAYOUTS = list(
    product(
        ["uint8", "uint16", "float32"],
        ["strips", "tiles"],
        [None, "lzw", "deflate"],
        ["contig", "separate"],
        ["<", ">"],
        [False, True],
    )
)


@pytest.mark.parametrize(
    ("dtype", "parts", "packing", "planar", "order", "big"),
    LAYOUTS,
    ids=["-".join(map(str, layout)) for layout in LAYOUTS],
)
def test_tiff_layout_gives_the_light_that_was_written(
    tmp_path, opened, dtype, parts, packing, planar, order, big
):
    pixels = picture(dtype)
    shape = {"rowsperstrip": 16} if parts == "strips" else {"tile": (32, 48)}
    path = write_tiff(
        tmp_path / "master.tif",
        pixels,
        compression=packing,
        predictor=packing is not None,
        planarconfig=planar,
        byteorder=order,
        bigtiff=big,
        **shape,
    )
    master = opened(path)
    light = whole(master)
    np.testing.assert_allclose(
        light, planes(srgb_light(share(pixels))), rtol=0, atol=SRGB_ATOL
    )
    assert light.dtype == np.float32
    assert light.flags.c_contiguous
    facts = master.facts
    assert (facts.width_px, facts.height_px, facts.channels) == (COLUMNS, ROWS, 3)
    assert facts.bits == np.dtype(dtype).itemsize * 8
    assert facts.is_float == (dtype == "float32")
    assert facts.clipped_share == 0


@pytest.mark.parametrize("dtype", ["uint8", "uint16"])
@pytest.mark.parametrize("channels", [1, 3])
def test_png_gives_the_light_that_was_written(tmp_path, opened, dtype, channels):
    pixels = picture(dtype, channels)
    profile = SQUARE_GREY if channels == 1 else SQUARE_RGB
    master = opened(write_png(tmp_path / "master.png", pixels, profile=profile))
    expected = planes(share(pixels)) ** 2
    np.testing.assert_allclose(whole(master), expected, rtol=0, atol=FLOAT_ATOL)
    assert (master.facts.file_format, master.facts.channels) == ("PNG", channels)


@pytest.mark.parametrize("mode", ["L", "RGB"])
def test_jpeg_gives_the_light_that_another_reader_decodes(tmp_path, opened, mode):
    path = tmp_path / "master.jpg"
    profile = SQUARE_GREY if mode == "L" else SQUARE_RGB
    image = Image.fromarray(picture("uint8")).convert(mode)
    image.save(path, quality=90, icc_profile=profile)
    with Image.open(path) as reader:
        pixels = np.asarray(reader).reshape(ROWS, COLUMNS, -1)
    master = opened(path)
    expected = planes(share(pixels)) ** 2
    np.testing.assert_allclose(whole(master), expected, rtol=0, atol=FLOAT_ATOL)
    assert (master.facts.file_format, master.facts.bits) == ("JPEG", 8)


@pytest.mark.parametrize("coding", ["YCbCr", "RGB"])
def test_jpeg_inside_tiff_comes_as_rgb(tmp_path, opened, coding):
    """A flat patch survives JPEG within a few codes, whatever its colour coding."""
    patch = np.full((64, 64, 3), (200, 120, 40), np.uint8)
    path = tmp_path / "master.tif"
    if coding == "YCbCr":  # what this writer makes of RGB
        write_tiff(path, patch, compression="jpeg", iccprofile=SQUARE_RGB)
    else:
        Image.fromarray(patch).save(path, compression="jpeg", icc_profile=SQUARE_RGB)
    with tifffile.TiffFile(path) as tiff:
        assert tiff.pages[0].photometric.name == coding.upper()
    codes = np.sqrt(whole(opened(path))) * 255
    assert np.abs(codes - np.array([200, 120, 40])[:, None, None]).max() < 3


@pytest.mark.parametrize("dtype", ["uint8", "uint16", "float32"])
def test_white_is_zero_is_turned_round(tmp_path, opened, dtype):
    pixels = picture(dtype, 1)
    path = write_tiff(
        tmp_path / "master.tif",
        pixels,
        photometric="miniswhite",
        iccprofile=SQUARE_GREY,
    )
    expected = planes(1 - share(pixels)) ** 2
    np.testing.assert_allclose(whole(opened(path)), expected, rtol=0, atol=FLOAT_ATOL)


@pytest.mark.parametrize("dtype", ["float16", "float32"])
def test_float_light_is_finer_than_the_table_of_codes(tmp_path, opened, dtype):
    pixels = picture(dtype)
    path = write_tiff(tmp_path / "master.tif", pixels, iccprofile=SQUARE_RGB)
    master = opened(path)
    expected = planes(share(pixels)) ** 2
    np.testing.assert_allclose(whole(master), expected, rtol=0, atol=FLOAT_ATOL)
    assert (master.facts.bits, master.facts.is_float) == (
        np.dtype(dtype).itemsize * 8,
        True,
    )


def test_float_outside_its_range_is_clipped_and_counted(tmp_path, opened):
    pixels = np.full((10, 20, 3), 0.5, np.float32)
    pixels[0, :6, 0] = [-1, 2, np.nan, np.inf, -np.inf, 1]
    path = write_tiff(tmp_path / "master.tif", pixels, iccprofile=SQUARE_RGB)
    master = opened(path)
    assert master.facts.clipped_share == 5 / 600
    light = whole(master)[0, 0, :7]
    np.testing.assert_allclose(light, [0, 1, 0, 1, 0, 1, 0.25], rtol=0, atol=FLOAT_ATOL)


FLAGS = range(1, 9)


def exif_with(flag):
    exif = Image.Exif()
    exif[274] = flag
    return exif.tobytes()


@pytest.mark.parametrize("flag", FLAGS)
@pytest.mark.parametrize("kind", ["tiff", "tiff-packed", "png", "jpeg"])
def test_orientation_agrees_with_another_reader(tmp_path, opened, kind, flag):
    pixels = picture("uint8")
    path = tmp_path / "master"
    if kind.startswith("tiff"):
        write_tiff(
            path,
            pixels,
            compression="deflate" if kind == "tiff-packed" else None,
            iccprofile=SQUARE_RGB,
            extratags=[(274, 3, 1, flag, True)],
        )
    elif kind == "png":
        write_png(path, pixels, (b"eXIf", exif_with(flag)[6:]), profile=SQUARE_RGB)
    else:
        Image.fromarray(pixels).save(
            path, "jpeg", icc_profile=SQUARE_RGB, exif=exif_with(flag)
        )
    with Image.open(path) as reader:
        seen = np.asarray(ImageOps.exif_transpose(reader))
    master = opened(path)
    assert master.facts.orientation_flag == flag
    assert (master.facts.height_px, master.facts.width_px) == seen.shape[:2]
    expected = planes(share(seen)) ** 2
    np.testing.assert_allclose(whole(master), expected, rtol=0, atol=FLOAT_ATOL)
    assert whole(master).flags.c_contiguous


@pytest.mark.parametrize("flag", [0, 9, 700])
def test_orientation_unknown_to_the_standard_leaves_the_picture(tmp_path, opened, flag):
    path = write_tiff(
        tmp_path / "a.tif", picture("uint8"), extratags=[(274, 3, 1, flag, True)]
    )
    assert opened(path).facts.orientation_flag == 1


@pytest.fixture(scope="module")
def turned(tmp_path_factory):
    """One master in each orientation, read in place and from a working copy."""
    folder = tmp_path_factory.mktemp("turned")
    masters = {}
    for flag, packing in product(FLAGS, [None, "deflate"]):
        path = write_tiff(
            folder / f"{flag}-{packing}.tif",
            picture("uint16"),
            compression=packing,
            extratags=[(274, 3, 1, flag, True)],
        )
        master = open_master(path, cache_folder=folder / "cache")
        masters[flag, packing] = master, whole(master)
    yield masters
    for master, _ in masters.values():
        master.close()


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_pixel_does_not_depend_on_the_box_asked_for(turned, data):
    key = data.draw(st.sampled_from(sorted(turned, key=str)))
    master, everything = turned[key]
    width_px, height_px = master.facts.width_px, master.facts.height_px
    left = data.draw(st.integers(0, width_px - 1))
    top = data.draw(st.integers(0, height_px - 1))
    box = Box(
        left,
        top,
        data.draw(st.integers(1, width_px - left)),
        data.draw(st.integers(1, height_px - top)),
    )
    cut = everything[:, box.top : box.bottom, box.left : box.right]
    assert np.array_equal(master.linear(box), cut)


def test_threads_reading_at_once_get_what_one_gets(turned):
    master, everything = turned[6, None]
    tops = [n % (master.facts.height_px - 9) for n in range(0, 4000, 37)]

    def same(top):
        box = Box(3, top, 50, 9)
        return np.array_equal(master.linear(box), everything[:, top : top + 9, 3:53])

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(same, tops))


@pytest.mark.parametrize(
    "box",
    [Box(-1, 0, 5, 5), Box(0, 0, 0, 5), Box(80, 0, 11, 5), Box(0, 66, 5, 5)],
)
def test_box_outside_the_picture_is_refused(tmp_path, opened, box):
    master = opened(write_tiff(tmp_path / "a.tif", picture("uint8")))
    with pytest.raises(SpecError, match="at least one pixel inside the picture"):
        master.linear(box)


# Transparency --------------------------------------------------------------------


@pytest.mark.parametrize("dtype", ["uint8", "uint16", "float32"])
@pytest.mark.parametrize("channels", [1, 3])
def test_straight_alpha_is_laid_on_white_in_linear_light(
    tmp_path, opened, dtype, channels
):
    """Closed form: light · alpha + (1 - alpha)."""
    pixels = picture(dtype, channels + 1)
    path = write_tiff(
        tmp_path / "a.tif",
        pixels,
        photometric="rgb" if channels == 3 else "minisblack",
        extrasamples=["unassalpha"],
        iccprofile=SQUARE_RGB if channels == 3 else SQUARE_GREY,
        planarconfig="contig",
    )
    master = opened(path, alpha=AlphaRule.FLATTEN)
    values = share(pixels)
    colour, alpha = values[..., :-1], values[..., -1:]
    expected = planes(colour**2 * alpha + 1 - alpha)
    np.testing.assert_allclose(whole(master), expected, rtol=0, atol=FLOAT_ATOL)
    assert master.facts.alpha_was_flattened
    assert master.facts.channels == channels


def test_premultiplied_alpha_is_divided_out_as_stored(tmp_path, opened):
    """TIFF 6.0, section 18: stored colours are already multiplied by alpha."""
    straight = np.array([[[0.5, 0.25, 1.0]] * 4])
    alpha = np.array([1.0, 0.5, 0.25, 0.0])[None, :, None]
    stored = np.concatenate([straight * alpha, alpha], axis=2).astype(np.float32)
    path = write_tiff(
        tmp_path / "a.tif",
        stored,
        extrasamples=["assocalpha"],
        iccprofile=SQUARE_RGB,
    )
    expected = planes(straight**2 * alpha + 1 - alpha)
    light = whole(opened(path, alpha=AlphaRule.FLATTEN))
    np.testing.assert_allclose(light, expected, rtol=0, atol=FLOAT_ATOL)


@pytest.mark.parametrize("dtype", ["uint8", "uint16"])
def test_png_alpha_is_laid_on_white(tmp_path, opened, dtype):
    pixels = picture(dtype, 4)
    path = write_png(tmp_path / "a.png", pixels, profile=SQUARE_RGB)
    values = share(pixels)
    colour, alpha = values[..., :3], values[..., 3:]
    light = whole(opened(path, alpha=AlphaRule.FLATTEN))
    expected = planes(colour**2 * alpha + 1 - alpha)
    np.testing.assert_allclose(light, expected, rtol=0, atol=FLOAT_ATOL)


def test_png_colour_named_transparent_becomes_white(tmp_path, opened):
    pixels = np.zeros((4, 5, 3), np.uint8)
    pixels[0, 0] = (9, 8, 7)
    key = b"tRNS", struct.pack(">3H", 9, 8, 7)
    path = write_png(tmp_path / "a.png", pixels, key)
    light = whole(opened(path, alpha=AlphaRule.FLATTEN))
    assert np.all(light[:, 0, 0] == 1)
    assert light.sum() == 3


# Table profiles ------------------------------------------------------------------

# ISO 22028-2, via its primaries and D50: linear ROMM RGB from XYZ (Y of white 1),
# the inverse of the matrix with columns X, Y, Z of the primaries.
ROMM_XY = np.array([[0.7347, 0.2653], [0.1596, 0.8404], [0.0366, 0.0001]])
D50 = np.array([0.9642, 1.0, 0.8249])  # ICC.1:2022, 7.2.16


def xyz_of_primaries(xy, white):
    columns = np.stack([xy[:, 0] / xy[:, 1], np.ones(3), (1 - xy.sum(1)) / xy[:, 1]])
    return columns * np.linalg.solve(columns, white)


# Primaries chosen for the test: inside ROMM RGB, and with a green outside it.
INSIDE = np.array([[0.66, 0.32], [0.27, 0.62], [0.14, 0.07]])
OUTSIDE = np.array([[0.66, 0.32], [0.08, 0.85], [0.14, 0.07]])


def english(text):
    """ICC.1:2022, 10.15 (multiLocalizedUnicodeType) with one record."""
    coded = text.encode("utf-16-be")
    return (
        b"mluc"
        + bytes(4)
        + struct.pack(">2I4s2I", 1, 12, b"enUS", len(coded), 28)
        + coded
    )


def table_element(to_xyz):
    """Square law and additive primaries as a table.

    ICC.1:2022, 10.10 (lut16Type) with XYZ as u1Fixed15 numbers (6.3.4.2, table 11).
    """
    corners = [to_xyz @ corner for corner in product((0, 1), repeat=3)]
    curve = np.round(np.linspace(0, 1, 4096) ** 2 * 65535)
    numbers = [
        *np.tile(curve, 3),
        *np.round(np.concatenate(corners) * 32768),
        *np.tile([0, 65535], 3),
    ]
    unit = [65536 if row == column else 0 for row in range(3) for column in range(3)]
    head = b"mft2" + bytes(4) + bytes([3, 3, 2, 0])
    return (
        head + struct.pack(">9i2H", *unit, 4096, 2) + np.array(numbers, ">u2").tobytes()
    )


def table_profile(to_xyz):
    """A profile of tables; the perceptual one has red and blue changed over."""
    white = struct.pack(">3i", *np.rint(D50 * 65536).astype(int))
    tags = {
        "desc": english("Square law by table"),
        "cprt": english("No rights reserved."),
        "wtpt": b"XYZ " + bytes(4) + white,
        "A2B0": table_element(to_xyz[:, ::-1]),
        "A2B1": table_element(to_xyz),
    }
    header = IccHeader(version=(4, 4), device_class="mntr", space="RGB", pcs="XYZ")
    return write_icc(header, tags)


@pytest.mark.parametrize("dtype", ["uint8", "uint16", "float32"])
@pytest.mark.parametrize("primaries", [INSIDE, OUTSIDE], ids=["inside", "outside"])
def test_table_profile_is_converted_to_linear_romm(tmp_path, opened, dtype, primaries):
    """The table holds an additive space, so that ROMM light has a closed form."""
    pixels = picture(dtype)
    to_xyz = xyz_of_primaries(primaries, D50)
    path = write_tiff(tmp_path / "a.tif", pixels, iccprofile=table_profile(to_xyz))
    master = opened(path)
    to_romm = np.linalg.inv(xyz_of_primaries(ROMM_XY, D50)) @ to_xyz
    exact = planes(share(pixels) ** 2 @ to_romm.T)
    assert (exact.min() < -0.01) == (primaries is OUTSIDE)
    # XYZ of a corner is within half of 1/32768, the curve within half of 1/65535;
    # no row of the inverse of ROMM's matrix sums to more than 2.1 in absolute values:
    # The three colorants of the named ROMM profile are within half of 1/65536 each:
    # 2.1 · (1.5e-5 + 0.8e-5 + 3 · 0.8e-5) = 1.0e-4.
    np.testing.assert_allclose(whole(master), np.clip(exact, 0, 1), rtol=0, atol=1e-4)
    assert master.profile == named_profile(NamedSpace.ROMM_RGB)
    assert master.source_profile.is_table
    assert master.facts.profile_is_table
    assert master.facts.profile_name == "Square law by table"


def test_matrix_profile_keeps_its_own_channels(tmp_path, opened):
    master = opened(write_tiff(tmp_path / "a.tif", picture("uint16")))
    assert master.profile == named_profile(NamedSpace.SRGB) == master.source_profile
    assert not master.facts.profile_is_table


# The reduced picture -------------------------------------------------------------


def mean_of_cells(light, factor):
    rows, columns = light.shape[1:]
    return np.array(
        [
            [
                [
                    plane[top : top + factor, left : left + factor].mean()
                    for left in range(0, columns, factor)
                ]
                for top in range(0, rows, factor)
            ]
            for plane in light.astype(np.float64)
        ]
    )


@pytest.mark.parametrize("factor", [1, 2, 7, 64, 200])
@pytest.mark.parametrize("flag", [1, 6])
def test_reduced_cell_is_the_mean_of_what_it_covers(turned, factor, flag):
    master, everything = turned[flag, None]
    reduced = master.reduced(factor)
    expected = mean_of_cells(everything, factor)
    # Sums of `factor` float32 numbers, each rounded to 6e-8 of itself.
    np.testing.assert_allclose(reduced, expected, rtol=factor * 6e-8 + 6e-8, atol=0)
    assert not reduced.flags.writeable


def test_reduced_picture_does_not_shift(tmp_path, opened):
    """On a ramp in linear light a whole cell has the value at its own centre."""
    ramp = np.broadcast_to(np.arange(0, 64000, 320)[:, None, None], (200, 30, 1))
    path = write_tiff(
        tmp_path / "a.tif",
        ramp.astype(np.uint16),
        iccprofile=imagecodecs.cms_profile("gray", gamma=1.0),
    )
    reduced = opened(path).reduced(8)
    centres = (np.arange(25) + 0.5) * 8 - 0.5
    np.testing.assert_allclose(
        reduced[0, :, 0], centres * 320 / 65535, rtol=0, atol=FLOAT_ATOL
    )


def test_reduced_picture_is_kept_until_two_others_were_asked_for(turned):
    master, _ = turned[1, None]
    first = master.reduced(3)
    assert master.reduced(3) is first
    master.reduced(4)
    assert master.reduced(3) is first
    master.reduced(5)
    master.reduced(6)
    again = master.reduced(3)
    assert again is not first
    assert np.array_equal(again, first)


@pytest.mark.parametrize("factor", [2, 7])
@pytest.mark.parametrize("flag", [1, 6])
def test_some_reduced_rows_are_those_of_the_whole(tmp_path, opened, factor, flag):
    """The first time they alone are computed; then the kept ones are given."""
    path = write_tiff(
        tmp_path / "a.tif", picture("uint16"), extratags=[(274, 3, 1, flag, True)]
    )
    master, other = opened(path), opened(path)
    whole = other.reduced(factor)
    end = whole.shape[1]
    apart = [range(1), range(2, 4), range(5, end)]
    shared = [range(3), range(1, 3), range(1, 4), range(3, 4), range(2, end)]
    for _ in range(2):
        some = master.rows_reduced(factor)
        for ranges in (apart, shared, [range(1, end)]):
            found = list(some(ranges))
            for rows, planes in zip(ranges, found, strict=True):
                assert np.array_equal(planes, whole[:, rows.start : rows.stop])
                assert all(plane.flags.c_contiguous for plane in planes)
    assert np.may_share_memory(found[0], master.reduced(factor))


def test_overview_is_the_same_when_it_is_asked_for_again(tmp_path, opened):
    """From rows computed for it, from kept ones, and by the whole plane at once."""
    rng = np.random.default_rng(3)
    pixels = rng.integers(0, 65536, (1301, 997, 3), np.uint16)
    master = opened(write_tiff(tmp_path / "a.tif", pixels))
    crop = Crop(10, 20, 900, 1200)
    first, again = (
        ResampledLight(master, crop, (900, 1200)).reduced((180, 240)) for _ in range(2)
    )
    assert np.array_equal(first, again)
    assert np.ptp(first) > 0.2
    box = (5.0, 10.0, 455.0, 610.0)
    for plane, means in zip(first, master.reduced(2), strict=True):
        at_once = np.clip(resample_plane(means, box, (180, 240)), 0, 1)
        assert np.array_equal(plane, at_once)


def test_reduction_below_one_is_refused(turned):
    with pytest.raises(SpecError, match="factor of 1 or more"):
        turned[1, None][0].reduced(0)


# The file itself -----------------------------------------------------------------


@pytest.mark.parametrize("packing", [None, "deflate"])
def test_master_is_read_from_a_folder_that_cannot_be_written(tmp_path, packing):
    folder = tmp_path / "archive"
    folder.mkdir()
    path = write_tiff(folder / "a.tif", picture("uint16"), compression=packing)
    path.chmod(0o444)
    folder.chmod(0o555)
    before = path.read_bytes(), path.stat().st_mtime_ns
    try:
        with open_master(path, cache_folder=tmp_path / "cache") as master:
            whole(master)
            master.reduced(3)
            assert master.facts.sha256 == hashlib.sha256(before[0]).hexdigest()
        assert (path.read_bytes(), path.stat().st_mtime_ns) == before
        assert list(folder.iterdir()) == [path]
    finally:
        folder.chmod(0o755)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("planar", ["contig", "separate"])
def test_plain_tiff_is_read_in_place(tmp_path, opened, planar, order):
    path = write_tiff(
        tmp_path / "a.tif", picture("uint16"), planarconfig=planar, byteorder=order
    )
    master = opened(path)
    assert not (tmp_path / "cache").exists()
    stored = picture("uint16")
    for box in (Box(3, 2, 4, 5), Box(0, 0, *stored.shape[1::-1]), Box(1, 6, 20, 2)):
        part = stored[box.top : box.bottom, box.left : box.right]
        assert np.array_equal(master.codes(box), part.transpose(2, 0, 1))


def test_file_written_to_while_it_is_open_is_noticed(tmp_path, opened):
    path = write_tiff(tmp_path / "a.tif", picture("uint16"))
    master = opened(path)
    whole(master)
    with path.open("r+b") as stream:
        stream.seek(-1, io.SEEK_END)
        stream.write(b"\0" * 5)
    with pytest.raises(MasterError, match="Let the other program finish saving"):
        whole(master)


def test_closed_master_says_so(tmp_path, opened):
    master = opened(write_tiff(tmp_path / "a.tif", picture("uint16")))
    master.close()
    master.close()
    with pytest.raises(MasterError, match="Open it again"):
        whole(master)
