"""What is told of the sharpening is the whole one's, and what is advised cures."""

import re
from dataclasses import replace

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import ndimage

from printplan.checks.finding import Level
from printplan.checks.pixels import check_pixels
from printplan.checks.sharpness import sharpness_findings
from printplan.pixels.master import open_master
from printplan.pixels.picture_content import picture_content
from printplan.pixels.render import render
from printplan.pixels.sharpening import chosen_sharpening, predicted_effect
from printplan.pixels.sheet import build_sheet, varied
from printplan.record.decision_sheet.colour_facts import sharpening_facts
from printplan.sharpening.limits import DecidingBound, SharpenLimits
from printplan.spec import Delivery, DeliverySpec, Extent
from printplan.workbook.words import effect_rows

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def print_of(studio, plan_for):
    """A demo photograph as a print, and its content, each made once."""
    made, opened = {}, []

    def make(stem, width_mm=100.0):
        if (stem, width_mm) not in made:
            path = next(it for it in studio.scenario.masters if it.stem == stem)
            opened.append(open_master(path))
            sheet = build_sheet(opened[-1], plan_for(opened[-1], width_mm=width_mm))
            made[stem, width_mm] = sheet, picture_content(sheet)
        return made[stem, width_mm]

    yield make
    for master in opened:
        master.close()


def sharpened(sheet, **changed):
    spec = sheet.plan.spec
    return varied(sheet, replace(spec, sharpen=replace(spec.sharpen, **changed)))


def finding(sheet, content, about):
    found = [it for it in sharpness_findings(sheet, content) if it.topic == about]
    return found[0] if found else None


# One effect for all


@pytest.mark.slow
def test_every_place_tells_the_halo_that_the_limit_leaves(print_of):
    """Gain 3 under a limit of 5 % in the file: paper only takes from that."""
    sheet, content = print_of("seed-heads")
    limited = sharpened(sheet, gain=3.0, radius_mm=0.1, halo_limit_share=0.05)
    effect = predicted_effect(limited.plan, content, distance_mm=250)
    assert 0 < effect.overshoot_in_print <= 0.05
    section, _ = sharpening_facts(limited)
    rows = {row.what: row.value for row in section.rows}
    assert rows["Halo limit"] == "5% in the file"
    assert rows["Halo in print"].startswith(f"{effect.overshoot_in_print:.0%} of")
    assert rows["Acutance"].endswith(f"{effect.acutance_after:.2f} with it")
    panel = {row[0]: row[2] for row in effect_rows(effect, distance_mm=250)}
    assert panel["halo, print (of step)"] == f"{effect.overshoot_in_print:.1%}"
    assert finding(limited, content, "halo") is None


def test_a_limit_lowers_acutance_and_noise_too(print_of):
    sheet, content = print_of("seed-heads")
    free, held, tight = (
        predicted_effect(
            sharpened(sheet, gain=2.0, radius_mm=0.08, halo_limit_share=limit).plan,
            content,
            distance_mm=400,
        )
        for limit in (None, 0.1, 0.02)
    )
    assert free.acutance_after > held.acutance_after > tight.acutance_after
    assert tight.acutance_after > free.acutance_before
    assert free.visible_noise_after > tight.visible_noise_after
    assert free.overshoot_in_print > held.overshoot_in_print > tight.overshoot_in_print


def test_noise_under_a_limit_is_what_the_files_pixels_have(
    master_of, plan_for, tmp_path
):
    """White noise through the whole engine, measured in the TIFF by plain numpy."""
    rng = np.random.default_rng(5)
    before = 60 + rng.normal(0, 2.0, (300, 300))
    sheet = build_sheet(
        master := master_of(romm_grey(before)),
        plan_for(
            master,
            width_mm=25.4,
            delivery=DeliverySpec(
                colour=Delivery.WORKING_COLOUR, extent=Extent.PICTURE
            ),
        ),
    )
    content = replace(picture_content(sheet), noise_l=2.0)
    for limit in (0.0, 0.05, 0.2):
        tried = sharpened(sheet, gain=2.0, radius_mm=0.08, halo_limit_share=limit)
        path = tmp_path / f"{limit}.tif"
        render(tried, path)
        light = (tifffile.imread(path)[..., 1] / 65535) ** 1.8
        found = (116 * np.cbrt(light) - 16).std() / before.std()
        told = predicted_effect(tried.plan, content, distance_mm=300).noise_gain
        # The stage's draw has 37,000 pixels, this one 90,000.
        assert told == pytest.approx(found, rel=0.02)


def romm_grey(lightness):
    """Codes of a grey in ROMM RGB; ISO 22028-2: its curve above 1/512."""
    light = ((lightness + 16) / 116) ** 3
    codes = np.rint(light ** (1 / 1.8) * 65535).astype(np.uint16)
    return codes[..., None].repeat(3, axis=2)


@pytest.mark.slow
@pytest.mark.parametrize("stem", ["seed-heads", "red-bowl", "stream"])
@pytest.mark.parametrize("halo_limit", [0.05, 0.12])
def test_the_choice_keeps_its_print_halo_limit_on_strong_edges(
    print_of, stem, halo_limit
):
    sheet, content = print_of(stem)
    limits = SharpenLimits(halo_limit=halo_limit)
    for restore in (1.0, 1.5):
        advice = chosen_sharpening(
            sheet.plan, content, distance_mm=350, restore=restore, limits=limits
        )
        planned = varied(sheet, replace(sheet.plan.spec, sharpen=advice.spec))
        effect = predicted_effect(planned.plan, content, distance_mm=350)
        assert effect.overshoot_in_print <= halo_limit + 1e-3
        assert advice.choice.overshoot_in_print == effect.overshoot_in_print
        assert advice.choice.acutance_after == effect.acutance_after


def test_more_restore_never_gives_less_acutance(print_of):
    """A limit tight enough for strong edges may not take detail away again."""
    for stem in ("seed-heads", "red-bowl"):
        sheet, content = print_of(stem)
        acutance = [
            chosen_sharpening(
                sheet.plan, content, distance_mm=450, restore=restore
            ).choice.acutance_after
            for restore in (0.5, 1.0, 1.25, 1.5)
        ]
        assert acutance == sorted(acutance)


def test_a_restore_that_a_limit_stopped_is_not_said_to_be_had(print_of):
    sheet, content = print_of("seed-heads")
    limits = SharpenLimits(halo_limit=0.02)
    advice = chosen_sharpening(sheet.plan, content, distance_mm=400, limits=limits)
    assert advice.choice.deciding_bound is DecidingBound.HALO_LIMIT
    assert advice.choice.restored < 0.9
    section, _ = sharpening_facts(
        varied(sheet, replace(sheet.plan.spec, sharpen=advice.spec))
    )
    assert "Chosen to restore 1" not in " ".join(section.words)
    assert f"limits leave {advice.choice.restored:.2f} of it" in section.words[0]


# Findings


@pytest.mark.slow
def test_a_print_without_sharpening_is_warned_of_and_cured(print_of):
    """The commonest fault of all: common practice, no source."""
    for stem in ("seed-heads", "red-bowl", "stream"):
        sheet, content = print_of(stem)
        warned = finding(sheet, content, "not sharpened")
        assert warned.level is Level.WARN
        cured = sharpened(sheet, **settings_of(warned.remedy))
        assert finding(cured, content, "not sharpened") is None
        assert finding(cured, content, "halo") is None
        assert finding(cured, content, "noise") is None


def settings_of(remedy):
    """What a remedy names, as the plan takes it."""
    patterns = {
        "gain": r"gain of ([\d.]+\d)",
        "radius_mm": r"radius of ([\d.]+\d) mm",
        "halo_limit_share": r"halo limit of ([\d.]+\d)",
        "grain_floor_l": r"grain floor of ([\d.]+\d) L",
    }
    found = {name: re.search(it, remedy) for name, it in patterns.items()}
    return {name: float(hit[1]) for name, hit in found.items() if hit}


@pytest.mark.slow
@settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    stem=st.sampled_from(["seed-heads", "red-bowl", "stream"]),
    width_mm=st.sampled_from([60.0, 100.0, 230.0]),
    gain=st.floats(0.3, 8.0),
    radius_mm=st.floats(0.05, 0.6),
    limit=st.sampled_from([None, 0.2, 0.6]),
    noise_l=st.sampled_from([0.3, 2.0, 5.0]),
)
def test_what_halo_and_noise_findings_name_cures_them(
    print_of, stem, width_mm, gain, radius_mm, limit, noise_l
):
    sheet, content = print_of(stem, width_mm)
    content = replace(content, noise_l=noise_l)
    flawed = sharpened(sheet, gain=gain, radius_mm=radius_mm, halo_limit_share=limit)
    for about in ("halo", "noise"):
        warned = finding(flawed, content, about)
        if warned is None:
            continue
        named = settings_of(warned.remedy)
        assert named
        # Each of the settings cures by itself.
        for name, value in named.items():
            assert finding(sharpened(flawed, **{name: value}), content, about) is None


# Grain


def grain(shape, size_px, strength_l):
    drawn = np.random.default_rng(7).normal(0, 1, shape)
    drawn = ndimage.gaussian_filter(drawn, size_px) if size_px else drawn
    return strength_l * drawn / drawn.std()


def test_grain_gets_a_grain_floor_that_is_explained(master_of, plan_for):
    """Film grain on slow shades: noise, and not to be sharpened."""
    rows, columns = np.indices((500, 600))
    shade = 50 + 20 * np.sin(rows / 110) * np.cos(columns / 130)
    master = master_of(romm_grey(shade + grain(shade.shape, 0.8, 3.0)))
    sheet = build_sheet(master, plan_for(master, width_mm=600 / 300 * 25.4))
    content = picture_content(sheet)
    assert "fine detail carries" not in content.words
    advice = chosen_sharpening(sheet.plan, content, distance_mm=300)
    floor_l = advice.spec.grain_floor_l
    # Twice the deviation of what a blur of one pixel takes away.
    high_pass = grain(shade.shape, 0.8, 3.0)
    high_pass -= ndimage.gaussian_filter(high_pass, 1.0)
    assert floor_l == pytest.approx(2 * high_pass.std(), rel=0.1)
    assert f"spared by a grain floor of {floor_l:.1f} L*" in advice.reason
    spared, raw = (
        predicted_effect(
            sharpened(sheet, gain=2.0, radius_mm=0.08, grain_floor_l=it).plan,
            content,
            distance_mm=300,
        ).noise_gain
        for it in (floor_l, 0.0)
    )
    assert spared - 1 < (raw - 1) / 2


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["even", "two tones", "colours"])
@pytest.mark.parametrize("width_mm", [30.0, 100.0, 240.0])
def test_master_of_pure_noise_is_judged_and_not_refused(
    master_of, plan_for, kind, width_mm
):
    """L* scatters by 50 at most: half of the pixels at 0, half at 100."""
    draw = np.random.default_rng(5)
    shape = (480, 640, 3 if kind == "colours" else 1)
    pixels = draw.integers(0, 65536, shape, np.uint16)
    if kind == "two tones":
        pixels = np.where(pixels < 32768, 0, 65535).astype(np.uint16)
    master = master_of(np.broadcast_to(pixels, (480, 640, 3)).copy())
    for gain in (0.0, 1.0):
        sheet = build_sheet(master, plan_for(master, width_mm=width_mm, gain=gain))
        check_pixels(sheet)
        content = picture_content(sheet)
        assert 0 < content.noise_l <= 50
        chosen = chosen_sharpening(sheet.plan, content, distance_mm=400.0, restore=1.0)
        assert 0 <= chosen.spec.gain < 10
