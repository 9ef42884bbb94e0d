"""A thumbnail shows the photograph as it is looked at, or says why it cannot."""

from io import BytesIO

import numpy as np
import pytest
import tifffile
from PIL import Image

from printplan.colour.spaces import named_profile
from printplan.errors import MasterError, ProfileError
from printplan.spec import NamedSpace
from printplan.workbook import thumbnails
from printplan.workbook.thumbnails import THUMBNAIL_PX, thumbnail

NEAR = 6
"""Greatest difference of 8-bit codes in a flat field: JPEG's own (our choice)."""

SRGB = named_profile(NamedSpace.SRGB).data
COLOURS = np.array([[[200, 40, 40], [40, 160, 60]], [[50, 60, 190], [230, 220, 90]]])


def quarters(width_px, height_px):
    """Four flat fields: red, green; blue, yellow."""
    rows = np.arange(height_px) * 2 // height_px
    columns = np.arange(width_px) * 2 // width_px
    return COLOURS[rows[:, None], columns[None, :]].astype(np.uint8)


def seen(path):
    return np.asarray(Image.open(BytesIO(thumbnail(path))).convert("RGB")).astype(int)


def fields_of(picture):
    """The colour in the middle of each quarter."""
    rows, columns = picture.shape[0], picture.shape[1]
    at = [[rows // 4, 3 * rows // 4], [columns // 4, 3 * columns // 4]]
    return picture[np.ix_(*at)]


def write(path, pixels, orientation=1):
    if path.suffix == ".tif":
        tifffile.imwrite(
            path,
            pixels,
            photometric="rgb",
            iccprofile=SRGB,
            metadata=None,
            compression=None if "plain" in path.stem else "lzw",
            extratags=[(274, 3, 1, orientation, True)],
        )
        return
    exif = Image.Exif()
    exif[274] = orientation
    Image.fromarray(pixels).save(path, icc_profile=SRGB, exif=exif, quality=95)


FILES = ["plain.tif", "packed.tif", "photo.png", "photo.jpg"]


@pytest.mark.parametrize("name", FILES)
def test_colours_are_the_photographs_and_the_size_is_small(tmp_path, name):
    path = tmp_path / name
    write(path, quarters(900, 600))
    picture = seen(path)
    assert THUMBNAIL_PX * 0.6 < max(picture.shape) <= THUMBNAIL_PX
    assert picture.shape[1] / picture.shape[0] == pytest.approx(1.5, rel=0.03)
    np.testing.assert_allclose(fields_of(picture), COLOURS, atol=NEAR)


@pytest.mark.parametrize("name", FILES)
def test_a_photograph_stands_upright(tmp_path, name):
    """TIFF 6.0, Orientation 6: the first row is the right-hand side."""
    path = tmp_path / name
    write(path, quarters(900, 600), orientation=6)
    picture = seen(path)
    assert picture.shape[0] > picture.shape[1]
    np.testing.assert_allclose(fields_of(picture), np.rot90(COLOURS, k=-1), atol=NEAR)


@pytest.mark.parametrize("size", [(1, 1), (3, 700), (161, 2)])
def test_odd_sizes_have_a_thumbnail(tmp_path, size):
    for name in FILES:
        path = tmp_path / name
        write(path, np.full((size[1], size[0], 3), 128, np.uint8))
        picture = seen(path)
        assert max(picture.shape) <= THUMBNAIL_PX
        np.testing.assert_allclose(picture, 128, atol=NEAR)


def test_colours_of_a_wide_space_are_converted(tmp_path):
    """Neutral 16-bit ROMM RGB of code 128: gamma 1.8 to sRGB's own curve."""
    path = tmp_path / "wide.tif"
    tifffile.imwrite(
        path,
        np.full((80, 120, 3), 128 * 257, np.uint16),
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )
    linear = (128 / 255) ** 1.8  # ISO 22028-2, clause 4.5
    # IEC 61966-2-1, its non-linear part:
    expected = 255 * (1.055 * linear ** (1 / 2.4) - 0.055)
    np.testing.assert_allclose(seen(path), expected, atol=3)


def test_a_master_without_a_profile_is_shown_all_the_same(tmp_path):
    path = tmp_path / "bare.png"
    Image.fromarray(quarters(300, 200)).save(path)
    np.testing.assert_allclose(fields_of(seen(path)), COLOURS, atol=NEAR)


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_is_cut_short_says_so(tmp_path, name):
    path = tmp_path / name
    noise = np.random.default_rng(1).integers(0, 255, (200, 300, 3), np.uint8)
    write(path, noise)
    path.write_bytes(path.read_bytes()[:30_000])
    with pytest.raises(MasterError) as caught:
        thumbnail(path)
    assert caught.value.remedy


def test_what_is_no_photograph_says_so(tmp_path):
    path = tmp_path / "notes.tif"
    path.write_text("These are notes.", "utf-8")
    with pytest.raises(MasterError, match="not a TIFF, PNG or JPEG"):
        thumbnail(path)
    with pytest.raises(MasterError, match="no file"):
        thumbnail(tmp_path / "nowhere.tif")


def test_a_profile_of_another_kind_says_so(tmp_path):
    path = tmp_path / "odd.png"
    Image.new("L", (30, 20), 99).save(path, icc_profile=SRGB)
    with pytest.raises(ProfileError, match="is grey"):
        thumbnail(path)


def test_a_file_is_read_once_until_it_changes(tmp_path, monkeypatch):
    path = tmp_path / "photo.png"
    write(path, quarters(90, 60))
    first = thumbnail(path)
    read = []
    known = thumbnails.few_pixels
    monkeypatch.setattr(
        thumbnails, "few_pixels", lambda *given: read.append(given) or known(*given)
    )
    assert thumbnail(path) == first
    assert read == []
    write(path, np.full((60, 91, 3), 128, np.uint8))
    assert thumbnail(path) != first
    assert len(read) == 1
