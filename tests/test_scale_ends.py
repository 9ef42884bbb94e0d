"""What is told of clipping agrees with the file's own numbers, counted by numpy."""

import numpy as np
import pytest
import tifffile
from PIL import Image

from printplan.checks.master_pixels import master_pixel_findings
from printplan.colour.spaces import named_profile
from printplan.pixels.master import open_master
from printplan.pixels.scale_ends import clipping_words, scale_ends
from printplan.pixels.sheet import build_sheet
from printplan.spec import NamedSpace
from printplan.workbook.words import facts_words

SRGB = named_profile(NamedSpace.SRGB).data
SHAPE = (301, 417, 3)


def with_ends(dtype, shape=SHAPE, seed=7):
    """Noise without its ends, then some pixels white or black in one channel or all."""
    draw = np.random.default_rng(seed)
    top = np.iinfo(dtype).max
    pixels = draw.integers(1, top, shape, dtype)  # 1 to top - 1
    where = draw.random(shape[:2])
    pixels[where < 0.115] = top
    pixels[(where > 0.2) & (where < 0.24), 0] = top
    pixels[(where > 0.3) & (where < 0.33)] = 0
    pixels[(where > 0.4) & (where < 0.41), -1] = 0
    return pixels


def counted(pixels, white, black):
    """The four shares, of the numbers in the file."""
    pixels = pixels.reshape(*pixels.shape[:2], -1)
    lightest, darkest = pixels >= white, pixels <= black
    return [
        found.mean()
        for end in (lightest, darkest)
        for found in (end.any(axis=2), end.all(axis=2))
    ]


def told(path, **how):
    with open_master(path, **how) as master:
        ends = scale_ends(master)
        return [ends.white_any, ends.white_all, ends.black_any, ends.black_all]


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("compression", [None, "deflate"])
def test_ends_of_a_tiff_are_those_of_its_numbers(tmp_path, dtype, compression):
    path, pixels = tmp_path / "m.tif", with_ends(dtype)
    tifffile.imwrite(
        path, pixels, photometric="rgb", iccprofile=SRGB, compression=compression
    )
    top = np.iinfo(dtype).max
    found = told(path)
    assert found == counted(tifffile.imread(path), top, 0)
    assert found[0] > found[1] > 0.1
    assert found[2] > found[3] > 0.02


@pytest.mark.parametrize("photometric", ["minisblack", "miniswhite"])
def test_white_of_a_grey_file_is_where_the_file_says(tmp_path, photometric):
    """TIFF 6.0, PhotometricInterpretation: 0 may be imaged as white."""
    path, pixels = tmp_path / "m.tif", with_ends(np.uint8, (*SHAPE[:2], 1))[..., 0]
    tifffile.imwrite(path, pixels, photometric=photometric)
    light, dark = counted(pixels, 255, 0)[::2]
    if photometric == "miniswhite":
        light, dark = dark, light
    assert told(path, assume_profile="sRGB") == [light, light, dark, dark]


def test_numbers_cut_and_numbers_at_the_ends_are_both_told(tmp_path):
    path = tmp_path / "m.tif"
    pixels = (with_ends(np.uint16).astype(np.float64) / 65535).astype(np.float32)
    pixels[:30] *= 1.5
    pixels[30:40] -= 1.0
    tifffile.imwrite(path, pixels, photometric="rgb", iccprofile=SRGB)
    assert told(path) == pytest.approx(counted(pixels, 1.0, 0.0), abs=1e-4)
    outside = np.mean((pixels < 0) | (pixels > 1))
    assert outside > 0.05
    with open_master(path) as master:
        in_panel = facts_words(master.facts, scale_ends(master)).text
        white = counted(pixels, 1.0, 0.0)[0]
        for words in (in_panel, clipping_words(master)):
            assert f"{outside:.2%} of the numbers" in words
            assert f"at white {white:.2%} of the pixels" in words


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_ends_of_other_formats_agree_with_another_decoder(tmp_path, kind):
    path = tmp_path / f"m.{kind.lower()}"
    blocks = np.kron(with_ends(np.uint8, (30, 40, 3)), np.ones((8, 8, 1), np.uint8))
    Image.fromarray(blocks).save(path, kind, icc_profile=SRGB, quality=95)
    decoded = np.asarray(Image.open(path).convert("RGB"))
    # Two JPEG decoders may differ by one code (ITU-T T.83); PNG is exact.
    assert told(path) == pytest.approx(
        counted(decoded, 255, 0), abs=0.02 if kind == "JPEG" else 0
    )


def test_a_picture_clipped_at_255_is_told_in_the_findings(tmp_path, plan_for):
    path, pixels = tmp_path / "m.tif", with_ends(np.uint8)
    tifffile.imwrite(path, pixels, photometric="rgb", iccprofile=SRGB)
    white = counted(pixels, 255, 0)
    with open_master(path) as master:
        sheet = build_sheet(master, plan_for(master, width_mm=100))
        found = {it.topic: it for it in master_pixel_findings(sheet, None)}
    assert (
        f"{white[0]:.2%} of the pixels in a channel or more, {white[1]:.2%} in all"
        in found["ends of the scale"].problem
    )
