"""
What is wrong with a master is said, each by the finding meant for it.

Each flaw is one thing done to a real photograph. Sound photographs are in
`test_sound_plans.py`.
"""

from io import BytesIO

import numpy as np
import photographs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from photographs import ROMM, SRGB
from PIL import Image, ImageFilter
from scipy.signal import find_peaks

from printplan.checks import Level
from printplan.checks.master_pixels import master_pixel_findings
from printplan.checks.pixels import picture_findings
from printplan.pixels import master_measures as measures_module
from printplan.pixels.consequences import bare_areas
from printplan.pixels.master import open_master
from printplan.pixels.master_measures import (
    luma,
    master_measures,
    sample_boxes,
    tone_levels,
    visible_block_edges,
)
from printplan.pixels.sheet import build_sheet
from printplan.sizing import enlargement
from printplan.sizing.boxes import Box
from printplan.sizing.enlargement import measured_enlargement

WARN, NOTE = Level.WARN, Level.NOTE
BILINEAR, BICUBIC, LANCZOS = (
    Image.Resampling.BILINEAR,
    Image.Resampling.BICUBIC,
    Image.Resampling.LANCZOS,
)


def enlarged(name, times, kernel, *, sharpen=False, size_px=(1400, 1000)):
    """The middle of a photograph, enlarged to that size."""
    image = Image.fromarray(photographs.pixels(name))
    width, height = (length / times for length in size_px)
    left, top = (image.width - width) / 2, (image.height - height) / 2
    large = image.resize(size_px, kernel, (left, top, left + width, top + height))
    if sharpen:
        large = large.filter(ImageFilter.UnsharpMask(1.5, 80, 0))
    return np.asarray(large)


def stretched(name, low, gain):
    """Tones pulled apart at 8 bits."""
    codes = photographs.pixels(name, 1200).astype(float)
    return np.clip(np.rint((codes - low) * gain), 0, 255).astype(np.uint8)


def compressed(codes, quality):
    stream = BytesIO()
    Image.fromarray(codes).save(stream, "JPEG", quality=quality)
    return np.asarray(Image.open(stream))


def blown(name, power):
    """Overexposed: all that was light becomes white."""
    codes = photographs.pixels(name, 1200) / 255
    return np.rint(np.clip(codes * power, 0, 1) * 255).astype(np.uint8)


FLAWED = {
    "enlarged 1.5 times, linear": (
        lambda: enlarged("stream", 1.5, BILINEAR),
        "soft master",
        WARN,
    ),
    "enlarged 2 times, cubic": (
        lambda: enlarged("red-bowl", 2, BICUBIC),
        "soft master",
        WARN,
    ),
    "enlarged 2 times and sharpened": (
        lambda: enlarged("stream", 2, BICUBIC, sharpen=True),
        "soft master",
        WARN,
    ),
    "enlarged 3 times, Lanczos": (
        lambda: enlarged("seed-heads", 3, LANCZOS),
        "soft master",
        WARN,
    ),
    "enlarged 6 times, cubic": (
        lambda: enlarged("stream", 6, BICUBIC),
        "soft master",
        WARN,
    ),
    "enlarged 8 times, Lanczos": (
        lambda: enlarged("red-bowl", 8, LANCZOS),
        "soft master",
        WARN,
    ),
    "tones pulled apart": (
        lambda: stretched("meadow", 40, 1.6),
        "posterised tones",
        WARN,
    ),
    "tones pulled apart a little": (
        lambda: stretched("two-dogs", 30, 1.3),
        "posterised tones",
        NOTE,
    ),
    "64 tones": (
        lambda: photographs.pixels("clock") // 4 * 4,
        "posterised tones",
        WARN,
    ),
    "64 tones at 16 bits": (
        lambda: (photographs.pixels("stream", 1200) // 4).astype(np.uint16) * 1028,
        "posterised tones",
        WARN,
    ),
    "8 bits in 16": (
        lambda: photographs.pixels("meadow").astype(np.uint16) * 257,
        "8-bit tones",
        NOTE,
    ),
    "compressed hard": (
        lambda: compressed(photographs.pixels("meadow"), 20),
        "compression blocks",
        WARN,
    ),
    "compressed hard, then cut": (
        lambda: compressed(photographs.pixels("two-dogs"), 25)[3:, 5:],
        "compression blocks",
        WARN,
    ),
}


def found_in(path, plan_for, *, ppi=300.0, paper="Heron Baryta 315"):
    """What is told of the picture in a print with that many of its pixels to the inch.

    Of the paper's colours and of sharpening, which are as dear, nothing is asked here.
    """
    with open_master(path) as master:
        width_mm = master.facts.width_px / ppi * 25.4
        plan = plan_for(master, paper=paper, width_mm=width_mm)
        sheet = build_sheet(master, plan)
        found = [*picture_findings(sheet), *master_pixel_findings(sheet, None)]
        return {it.topic: it for it in found}


@pytest.mark.slow
@pytest.mark.parametrize("name", FLAWED)
def test_flaw_is_found(name, tmp_path, plan_for):
    make, about, level = FLAWED[name]
    codes = np.ascontiguousarray(make())
    # A half and more of an enlargement of 1.5 is left at 300 ppi: 200, but no more.
    path = photographs.tagged_tiff(tmp_path / "flawed.tif", codes)
    found = found_in(path, plan_for, ppi=280.0)
    assert about in found, name
    assert found[about].level is level


@pytest.mark.slow
@pytest.mark.parametrize("name", ["red-bowl", "seed-heads", "clock", "nuthatch"])
def test_srgb_numbers_tagged_with_a_wide_space_are_told(name, tmp_path, plan_for):
    """And the same colours rightly converted are not."""
    codes = photographs.pixels(name, 1400)
    wrong = photographs.tagged_tiff(tmp_path / "wrong.tif", codes, ROMM)
    finding = found_in(wrong, plan_for)["tagged space"]
    assert finding.level is WARN
    assert "assign sRGB" in finding.remedy
    numbers = photographs.converted(codes, ROMM)
    right = photographs.tagged_tiff(tmp_path / "right.tif", numbers, ROMM)
    assert "tagged space" not in found_in(right, plan_for)


@pytest.mark.slow
def test_overexposed_surface_is_told_and_a_lamp_is_not(tmp_path, plan_for):
    pale = photographs.tagged_tiff(tmp_path / "pale.tif", blown("two-dogs", 1.5))
    assert found_in(pale, plan_for)["bare highlights"].level is WARN
    lamps = photographs.tagged_jpeg(tmp_path / "lamps.jpg", "bird-and-lamps")
    assert "bare highlights" not in found_in(lamps, plan_for)


@pytest.mark.slow
def test_remedy_of_an_enlarged_master_cures(tmp_path, plan_for):
    """The width that is named is printed, and nothing is said of it any more."""
    codes = enlarged("stream", 2, BICUBIC)
    path = photographs.tagged_tiff(tmp_path / "enlarged.tif", codes)
    remedy = found_in(path, plan_for)["soft master"].remedy
    width_mm = float(remedy.split("smaller: ")[1].split(" mm")[0])
    smaller = found_in(path, plan_for, ppi=1400 / width_mm * 25.4)
    assert "soft master" not in smaller


# The measures themselves


def samples_of(codes):
    boxes = sample_boxes(codes.shape[1], codes.shape[0])
    planes = [
        luma(codes[it.top : it.bottom, it.left : it.right].transpose(2, 0, 1))
        for it in boxes
    ]
    return planes, [(it.left, it.top) for it in boxes]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kernel", "times"),
    [(BILINEAR, 4), (BILINEAR, 6)]
    + [(kernel, times) for kernel in (BICUBIC, LANCZOS) for times in (4, 5, 6, 8)],
)
@pytest.mark.parametrize("name", ["stream", "red-bowl", "seed-heads"])
def test_enlargement_is_measured(name, kernel, times):
    """Within 3 %: a frequency is read to an eighth of a bin of 240."""
    planes, _ = samples_of(enlarged(name, times, kernel))
    found = measured_enlargement(planes, code_step=1.0)
    assert found is not None
    assert found.factor == pytest.approx(times, rel=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("name", photographs.PHOTOGRAPHS)
def test_photograph_shows_no_trace_of_a_flaw(name, tmp_path):
    """Soft ground, shallow focus and a JPEG's own grid are no enlargement."""
    with open_master(photographs.tagged_jpeg(tmp_path / "photo.jpg", name)) as master:
        measures = master_measures(master)
    assert measures.enlargement is None
    assert measures.block_share < 0.03
    assert measures.tones.empty_share < 0.02


def test_measures_are_taken_once_of_a_file_and_its_profile(tmp_path, monkeypatch):
    codes = np.random.default_rng(2).integers(0, 256, (300, 300, 3), np.uint8)
    path = tmp_path / "untagged.tif"
    Image.fromarray(codes).save(path)
    taken, measure = [], measures_module._measured

    def measured(master):
        taken.append(master.source_profile.name)
        return measure(master)

    monkeypatch.setattr(measures_module, "_measured", measured)
    monkeypatch.setenv("PRINTPLAN_CACHE", str(tmp_path / "cache"))
    found = {}
    for space in (SRGB, ROMM, SRGB, ROMM):
        with open_master(path, assume_profile=space) as master:
            kept = found.setdefault(space, master_measures(master))
            assert master_measures(master) is kept
            assert kept == measure(master)
    assert len(taken) == 2


@given(st.lists(st.integers(0, 4), min_size=1, max_size=40))
def test_lines_of_a_rhythm_are_the_peaks_of_another_library(heights):
    values = np.array(heights, np.float64)
    np.testing.assert_array_equal(enlargement._peaks(values), find_peaks(values)[0])


def test_blocks_grow_with_compression():
    """Pillow's qualities 10 to 95, which scale ITU-T T.81's tables of annex K."""
    codes = photographs.pixels("meadow")
    shares = [
        visible_block_edges(*samples_of(compressed(codes, quality)))
        for quality in (85, 70, 50, 30, 10)
    ]
    assert shares == sorted(shares)
    assert visible_block_edges(*samples_of(compressed(codes, 95))) < 0.002
    assert shares[-1] > 0.2


@pytest.mark.parametrize("gain", [1.25, 1.5, 2.0])
def test_empty_codes_are_those_of_the_stretch(gain):
    """A gain of g leaves 1 − 1/g of the codes empty, whatever the picture."""
    parts = [stretched("stream", 50, gain).transpose(2, 0, 1)]
    assert tone_levels(parts).empty_share == pytest.approx(1 - 1 / gain, abs=0.04)


def test_ramp_of_every_code_has_no_empty_one():
    ramp = np.tile(np.arange(256, dtype=np.uint8), (1, 64, 1))
    assert tone_levels([ramp]).empty_share == 0


def test_lamp_has_a_rim_and_a_glow():
    """A disc that lights its surroundings; the same disc on an even ground."""
    rows, columns = np.indices((400, 600))
    distance = np.hypot(rows - 200, columns - 300)
    disc = distance < 60
    glow = np.where(disc, 1.0, 0.7 * np.exp(-(distance - 60) / 120))
    (lamp,) = bare_areas(glow[None].astype(np.float32))
    assert lamp.is_light_source
    # Area of a circle over the picture's.
    assert lamp.share == pytest.approx(np.pi * 60**2 / (400 * 600), rel=0.02)
    (hole,) = bare_areas(np.where(disc, 1.0, 0.4)[None].astype(np.float32))
    assert not hole.is_light_source


def test_codes_are_those_of_the_file(tmp_path):
    codes = photographs.pixels("stream", 600)
    with open_master(photographs.tagged_tiff(tmp_path / "x.tif", codes, SRGB)) as it:
        box = Box(17, 23, 101, 64)
        part = it.codes(box)
    assert part.dtype == np.uint8
    assert np.array_equal(part, codes[23:87, 17:118].transpose(2, 0, 1))
