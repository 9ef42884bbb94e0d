"""From the trial sheet's own file to a print and its scan, and back to the spread."""

from functools import cache

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image
from scipy import ndimage

from printplan.colour.profiles import open_profile
from printplan.colour.spaces import named_profile, xyz_from_lab
from printplan.colour.transforms import device_to_lab
from printplan.errors import MasterError, ProfileError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet
from printplan.pixels.trials.scan import (
    LARGEST_TONE_ERROR,
    spread_from_scan,
    spread_in_scan,
)
from printplan.pixels.trials.scan_file import read_scan
from printplan.pixels.trials.trial_sheet import TrialSpec, make_trial
from printplan.sharpening.response import SpreadCurve, box_mtf, gaussian_mtf
from printplan.sharpening.slanted_edge import edge_sfr
from printplan.spec import Intent, NamedSpace, SheetSpec
from printplan.units import px_from_mm

# What the design asks of the loop.
SIGMA_RTOL = 0.03
# The print is computed at 8 fine pixels to each of the file's, the scan has 4.
FINE, SCANNED = 8, 4
OPTICS_UM = 12.0
COTTON, BARYTA = "Fen Cotton 310", "Heron Baryta 315"
GREY_22 = imagecodecs.cms_profile("gray", whitepoint=(0.3457, 0.3585, 1.0), gamma=2.2)


@pytest.fixture(scope="module")
def printed(studio, plan_for, tmp_path_factory):
    """Luminance of the squares and their surroundings, out of the rendered file."""

    @cache
    def make(paper, ppi):
        with open_master(studio.scenario.seed_heads) as master:
            sheet = build_sheet(master, plan_for(master, paper=paper, ppi=ppi))
            feed = sheet.plan.feed.name
            trial = make_trial(
                sheet, [], [], TrialSpec(sheet=SheetSpec(media_size="A4", feed=feed))
            )
            path = tmp_path_factory.mktemp("trial") / "trial.tif"
            render(trial, path)
        block = trial.plan.layout.blocks[0]
        whole = trial.plan.layout.file_box
        part = block.grown(round(px_from_mm(3, ppi)), whole)
        device = tifffile.imread(path)[part.top : part.bottom, part.left : part.right]
        with tifffile.TiffFile(path) as tiff:
            tagged = tiff.pages.first.tags["InterColorProfile"].value
        profile = open_profile(sheet.plan.setup.profile)
        assert tagged == profile.data
        lab = device_to_lab(device, profile, intent=Intent.ICC_ABSOLUTE)
        return xyz_from_lab(lab)[..., 1].astype(np.float32), trial.key.squares

    return make


def scanned(luminance, ppi, sigma_um, turn_deg, *, noise=0.003):
    """The file's pixels as squares of ink, spread, seen askew by a scanner."""
    um_per_px = 25400 / (ppi * FINE)
    # Points stand for the squares of both apertures: the box of one fine pixel is
    # missing in each, a twelfth of its square in variance.
    spread_px = np.sqrt((sigma_um**2 + OPTICS_UM**2) / um_per_px**2 + 2 / 12)
    step = FINE // SCANNED
    fine = luminance
    for axis in (0, 1):  # one after the other: the first then has few columns
        fine = np.repeat(fine, FINE, axis=axis)
        fine = ndimage.gaussian_filter1d(fine, spread_px, axis, mode="nearest")
        fine = ndimage.uniform_filter1d(fine, step, axis, mode="nearest")
    turn = np.radians(turn_deg)
    matrix = step * np.array(
        [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
    )
    size = np.array([int(length / step * 1.05) for length in fine.shape])
    start = (np.array(fine.shape) - 1) / 2 - matrix @ ((size - 1) / 2)
    light = ndimage.affine_transform(
        fine, matrix, start, output_shape=tuple(size), order=3, mode="nearest"
    )
    grain = np.random.default_rng(7).normal(0, noise, light.shape)
    return np.clip(light + grain, 0, 1)


def scanner(scan_ppi):
    """The scanner's own response, by formula: optics and a square sensor pixel."""
    frequency = np.linspace(0, 0.95 * scan_ppi / 25.4, 200)[1:]
    response = gaussian_mtf(frequency, OPTICS_UM / 1000) * box_mtf(
        frequency, 25.4 / scan_ppi
    )
    return SpreadCurve(cycles_per_mm=tuple(frequency), values=tuple(response))


def srgb(linear):
    """IEC 61966-2-1, from linear light."""
    curve = 1.055 * np.maximum(linear, 0) ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, 12.92 * linear, curve)


def saved(path, light, scan_ppi, *, bits, channels, tagged=True, ppi_known=True):
    """A scan file as a scanner writes it: sRGB if colour, gamma 2.2 if grey."""
    encoded = srgb(light) if channels == 3 else light ** (1 / 2.2)
    top = 2**bits - 1
    codes = np.rint(encoded * top).astype(f"u{bits // 8}")
    if channels == 3:
        codes = np.repeat(codes[..., None], 3, axis=-1)
    data = named_profile(NamedSpace.SRGB).data if channels == 3 else GREY_22
    if path.suffix == ".tif":
        tifffile.imwrite(
            path,
            codes,
            photometric="rgb" if channels == 3 else "minisblack",
            resolution=(scan_ppi, scan_ppi) if ppi_known else None,
            resolutionunit="inch" if ppi_known else None,
            iccprofile=data if tagged else None,
            metadata=None,
        )
    else:
        options = {"icc_profile": data} if tagged else {}
        if ppi_known:
            options["dpi"] = (scan_ppi, scan_ppi)
        Image.fromarray(codes).save(path, **options)
    return path


CASES = [
    (COTTON, 300, 60, 4.0, ".tif", 16, 3),
    (COTTON, 360, 25, 2.5, ".png", 8, 3),
    (BARYTA, 300, 25, 1.0, ".png", 16, 1),
    (BARYTA, 360, 40, -3.0, ".tif", 8, 1),
]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("paper", "ppi", "sigma_um", "turn_deg", "suffix", "bits", "channels"), CASES
)
def test_a_known_spread_comes_back_from_the_rendered_sheet(
    printed, tmp_path, paper, ppi, sigma_um, turn_deg, suffix, bits, channels
):
    luminance, squares = printed(paper, ppi)
    scan_ppi = ppi * SCANNED
    assert scan_ppi >= 1200
    light = scanned(luminance, ppi, sigma_um, turn_deg)
    path = saved(
        tmp_path / f"scan{suffix}", light, scan_ppi, bits=bits, channels=channels
    )
    reading = spread_from_scan(path, squares, scanner_sfr=scanner(scan_ppi))
    assert reading.fit.sigma_um == pytest.approx(sigma_um, rel=SIGMA_RTOL)
    assert reading.fit.n_edges >= 12
    assert reading.scan_ppi == pytest.approx(scan_ppi, rel=1e-4)
    assert not reading.includes_scanner
    assert reading.tone_error_share < LARGEST_TONE_ERROR
    assert "scanner" not in reading.words
    assert f"{reading.fit.sigma_um:.1f}" in reading.words


@pytest.fixture(scope="module")
def one_scan(printed):
    """A scan of the cotton sheet, printed at 300 ppi, with 50 µm of spread."""
    luminance, squares = printed(COTTON, 300)
    return scanned(luminance, 300, 50, 1.0), squares


@pytest.mark.slow
def test_without_a_reference_the_scanner_is_said_to_be_in_it(one_scan, tmp_path):
    light, squares = one_scan
    path = saved(tmp_path / "scan.tif", light, 1200, bits=16, channels=1)
    reading = spread_from_scan(path, squares)
    assert reading.includes_scanner
    assert "scanner's own spread is in it" in reading.words
    # Variances add; that of a box is its width squared over 12.
    whole_um = np.sqrt(50**2 + OPTICS_UM**2 + (25400 / 1200) ** 2 / 12)
    assert reading.fit.sigma_um == pytest.approx(whole_um, rel=SIGMA_RTOL)


@pytest.mark.slow
def test_tones_decoded_with_the_wrong_curve_are_told(one_scan, tmp_path):
    """An sRGB scan read as if its numbers were light."""
    light, squares = one_scan
    path = saved(tmp_path / "scan.tif", srgb(light), 1200, bits=16, channels=1)
    reading = spread_from_scan(path, squares, scanner_sfr=scanner(1200))
    assert reading.tone_error_share > LARGEST_TONE_ERROR
    assert "off those drawn by" in reading.words


@pytest.mark.slow
def test_a_negative_is_refused(one_scan, tmp_path):
    """Inverted as a program for film does it, in the numbers of the file."""
    light, squares = one_scan
    inverted = (1 - light ** (1 / 2.2)) ** 2.2
    path = saved(tmp_path / "scan.tif", inverted, 1200, bits=16, channels=1)
    with pytest.raises(SpecError, match=r"a negative\. Scan the sheet again as a pos"):
        spread_from_scan(path, squares)


@pytest.mark.slow
def test_squares_alone_are_no_negative(one_scan, tmp_path):
    """Cut so close that of the paper only the gaps between the grounds are left."""
    light, squares = one_scan
    height, width = round((2 * 18 + 2) / 25.4 * 1200), round((3 * 18 + 4) / 25.4 * 1200)
    start = round(3 / 25.4 * 1200 * 1.025)
    close = light[start : start + height, start : start + width]
    path = saved(tmp_path / "scan.tif", close, 1200, bits=16, channels=1)
    whole = saved(tmp_path / "whole.tif", light, 1200, bits=16, channels=1)
    assert spread_from_scan(path, squares).fit.sigma_um == pytest.approx(
        spread_from_scan(whole, squares).fit.sigma_um, rel=0.01
    )


@pytest.mark.slow
def test_zero_for_white_is_read_as_it_is_meant(one_scan, tmp_path):
    """TIFF 6.0, PhotometricInterpretation 0: the same picture, other numbers."""
    light, squares = one_scan
    path = saved(tmp_path / "scan.tif", light, 1200, bits=16, channels=1)
    codes = tifffile.imread(path)
    tifffile.imwrite(
        tmp_path / "other.tif",
        65535 - codes,
        photometric="miniswhite",
        resolution=(1200, 1200),
        resolutionunit="inch",
        iccprofile=GREY_22,
        metadata=None,
    )
    one, other = (
        spread_from_scan(it, squares) for it in (path, tmp_path / "other.tif")
    )
    assert other.fit.sigma_um == pytest.approx(one.fit.sigma_um, rel=1e-3)


@pytest.mark.slow
def test_the_drawn_edge_has_the_response_that_its_key_says(printed):
    """Measured in the file itself, where pixels count once and not twice."""
    luminance, squares = printed(BARYTA, 360)
    ground, gap, side = (px_from_mm(mm, 360) for mm in (18, 2, 8))
    start = px_from_mm(3, 360)
    for row in range(2):
        top = round(start + row * (ground + gap) + ground / 2)
        left = round(start + (ground - side) / 2)
        region = luminance[top - 30 : top + 30, left - 40 : left + 40]
        response = edge_sfr(region)
        known = squares.file_sfr
        own = np.interp(
            response.frequency_cycles_px * 360 / 25.4,
            [0, *known.cycles_per_mm],
            [1, *known.values],
        )
        off = response.sfr - np.sqrt(own)
        # Sixty lines at 5° meet the pixels 5.2 times: not a whole number.
        assert np.abs(off[response.frequency_cycles_px <= 0.5]).max() < 0.01


@pytest.mark.slow
def test_a_scan_of_another_resolution_than_it_says_is_refused(one_scan, tmp_path):
    light, squares = one_scan
    path = saved(tmp_path / "scan.tif", light, 600, bits=8, channels=1)
    with pytest.raises(SpecError, match=r"sides of 1[56]\.\d+ mm.*about 1200 ppi"):
        spread_from_scan(path, squares)
    reading = spread_from_scan(path, squares, scan_ppi=1200)
    assert reading.scan_ppi == 1200


@pytest.mark.parametrize("suffix", [".tif", ".png"])
def test_a_scan_that_does_not_say_its_resolution_needs_it(one_scan, tmp_path, suffix):
    light, _ = one_scan
    path = saved(
        tmp_path / f"scan{suffix}",
        light[:50, :50],
        0,
        bits=8,
        channels=1,
        ppi_known=False,
    )
    with pytest.raises(
        SpecError, match="Give the resolution that the scanner was set to"
    ):
        read_scan(path)
    assert read_scan(path, scan_ppi=1200).ppi == 1200


def test_an_untagged_scan_is_refused_unless_its_space_is_told(one_scan, tmp_path):
    light = one_scan[0][:60, :70]
    path = saved(tmp_path / "scan.png", light, 1200, bits=8, channels=3, tagged=False)
    with pytest.raises(ProfileError, match="carries no colour profile"):
        read_scan(path)
    scan = read_scan(path, assume_profile="sRGB")
    # Half a code of 8 bits, where sRGB is steepest: 2.4 / 1.055 / 255 / 2.
    assert np.abs(scan.linear - light).max() < 0.005


def test_a_tiff_in_centimetres_is_read_in_inches(tmp_path):
    path = tmp_path / "scan.tif"
    tifffile.imwrite(
        path,
        np.zeros((30, 30), np.uint8),
        resolution=(500, 500),
        resolutionunit="centimeter",
        iccprofile=GREY_22,
        metadata=None,
    )
    assert read_scan(path).ppi == pytest.approx(1270)


def test_a_scan_with_two_resolutions_is_refused(tmp_path):
    path = tmp_path / "scan.tif"
    tifffile.imwrite(
        path,
        np.zeros((30, 30), np.uint8),
        resolution=(1200, 600),
        resolutionunit="inch",
        iccprofile=GREY_22,
        metadata=None,
    )
    with pytest.raises(SpecError, match=r"1200 ppi across and 600 down"):
        read_scan(path)


def test_what_is_no_scan_is_refused(tmp_path):
    path = tmp_path / "scan.tif"
    path.write_bytes(b"a letter")
    with pytest.raises(MasterError, match="not a TIFF, PNG or JPEG"):
        read_scan(path)
    with pytest.raises(MasterError, match="no file"):
        read_scan(tmp_path / "none.tif")


def test_a_scan_without_the_squares_is_refused(one_scan, tmp_path):
    light, squares = one_scan
    path = saved(tmp_path / "scan.tif", light[:600, :900], 1200, bits=8, channels=1)
    with pytest.raises(SpecError, match=r"slanted square.*Scan (that|the) whole"):
        spread_from_scan(path, squares)


@pytest.mark.slow
def test_a_scan_at_too_few_ppi_for_an_unknown_scanner_is_refused(one_scan, tmp_path):
    light, squares = one_scan
    rows, columns = (length // 4 for length in light.shape)
    cells = light[: rows * 4, : columns * 4].reshape(rows, 4, columns, 4)
    coarse = cells.mean(axis=(1, 3))
    path = saved(tmp_path / "scan.tif", coarse, 300, bits=8, channels=1)
    with pytest.raises(SpecError, match=r"scan at 300 ppi.*Scan at \d{4} ppi"):
        spread_from_scan(path, squares)


@pytest.mark.slow
def test_edges_that_the_scanner_clipped_are_left_out_and_told(one_scan, tmp_path):
    """The lightest ground is blown out; the other squares still serve."""
    light, squares = one_scan
    path = saved(
        tmp_path / "scan.tif", np.minimum(1.6 * light, 1), 1200, bits=8, channels=1
    )
    reading = spread_from_scan(path, squares, scanner_sfr=scanner(1200))
    assert reading.fit.n_edges == 16
    assert "8 of 24 edges left out. The edge is clipped" in reading.words
    assert reading.fit.sigma_um == pytest.approx(50, rel=SIGMA_RTOL)


def test_a_scan_too_large_to_hold_is_refused(monkeypatch, tmp_path):
    monkeypatch.setattr("printplan.pixels.trials.scan_file.MOST_SCAN_PIXELS", 800)
    path = tmp_path / "scan.tif"
    tifffile.imwrite(path, np.zeros((30, 30), np.uint8), iccprofile=GREY_22)
    with pytest.raises(SpecError, match="Scan the slanted squares alone"):
        read_scan(path, scan_ppi=1200)


@pytest.mark.slow
def test_reading_a_scan_twice_gives_the_same(one_scan, tmp_path):
    light, squares = one_scan
    path = saved(tmp_path / "scan.tif", light, 1200, bits=8, channels=3)
    before = path.read_bytes()
    scan = read_scan(path)
    again = spread_in_scan(scan, squares)
    assert spread_from_scan(path, squares) == again
    assert path.read_bytes() == before
