"""A profile's quality as told, against other programs and known flaws."""

import hashlib

import colour
import numpy as np
import outside_tools
import pytest
from profile_flaws import emptied, grey_output_profile, rewritten, with_grid

from printplan.checks.output_profile import profile_lines, quality_findings
from printplan.colour.facts import profile_facts
from printplan.colour.icc_file import IccHeader, read_icc, xyz_element
from printplan.colour.icc_tables import read_lut
from printplan.colour.profile_quality import profile_quality
from printplan.colour.profiles import profile_from_bytes
from printplan.colour.spaces import lab_from_xyz, named_profile
from printplan.errors import ProfileError
from printplan.spec import Intent, NamedSpace


@pytest.fixture(scope="module")
def sound(paper_profiles):
    return paper_profiles["Fen Cotton 310"]


@pytest.fixture(scope="module")
def of_sound(sound):
    return profile_quality(sound)


@pytest.fixture(scope="module")
def of_press(fogra39):
    return profile_quality(fogra39)


def plane_of(profile, tag):
    """L* of the middle plane of a table from CIELAB, and how far the next one is."""
    lut = read_lut(read_icc(profile.data, where="a test").tags[tag], where="a test")
    curves, grid, *_ = lut.stages if len(lut.stages) > 2 else (None, *lut.stages)
    points = grid.values.shape[0]
    planes = np.array([points // 2, points // 2 + 1]) / (points - 1)
    if curves is not None:
        entries = curves.entries[0]
        planes = np.interp(planes, entries, np.linspace(0, 1, len(entries)))
    here, beyond = planes * 100 * 65535 / 65280  # ICC.1:2022, table 43.
    return here, beyond - here


def topics(quality):
    return {finding.topic for finding in quality_findings(quality)}


@pytest.mark.tools("transicc")
def test_round_trip_agrees_with_littlecms(of_press, fogra39_path):
    """All mixtures of three inks in 14 steps, by another build and another formula."""
    level = np.linspace(0, 100, 14)
    ink = np.stack(np.meshgrid(level, level, level, [0.0]), axis=-1).reshape(-1, 4)
    to_lab = ("-i", fogra39_path, "-o", "*Lab", "-t1")
    there = outside_tools.transicc(ink, *to_lab)
    again = outside_tools.transicc(there, "-i", "*Lab", "-o", fogra39_path, "-t1")
    back = outside_tools.transicc(again, *to_lab)
    away = colour.difference.delta_E_CIE2000(there, back)
    told = of_press.round_trip
    assert told.colours == len(ink)
    # It prints CIELAB with 2 to 4 decimals and ink with as many of a percent.
    assert told.median_delta_e == pytest.approx(np.median(away), abs=0.02)
    assert told.p95_delta_e == pytest.approx(np.percentile(away, 95), abs=0.05)


def test_a_table_that_answers_another_colour_fails_the_round_trip(sound, of_sound):
    assert "profile's round trip" not in topics(of_sound)
    # 6 % of full scale in every channel is some 5 L* in the mid tones.
    shifted = profile_quality(
        with_grid(sound, "B2A1", lambda grid: grid + round(0.06 * 65535))
    )
    assert shifted.round_trip.median_delta_e > 2
    assert "profile's round trip" in topics(shifted)


def test_a_step_in_the_table_is_found_where_it_is(sound, of_sound):
    """One lightness of the table raised by 4 %: an edge in every ramp through it."""
    assert "profile's smoothness" not in topics(of_sound)

    def raised(grid):
        middle = len(grid) // 2
        grid[middle] += round(0.04 * 65535)
        return grid

    stepped = profile_quality(with_grid(sound, "B2A1", raised))
    assert stepped.back.worst_delta_e > 4 * of_sound.back.worst_delta_e
    assert "profile's smoothness" in topics(stepped)
    # The edge is asked for at the plane's L*; its two slopes end a grid point away.
    plane_l, spacing_l = plane_of(sound, "B2A1")
    raised_l = 4.0  # Of device values, about as many L*.
    off_l = abs(stepped.back.worst_lab[0] - plane_l)
    assert off_l < spacing_l + raised_l
    # The way there is another table, which is as it was.
    assert stepped.there == of_sound.there


def test_a_step_in_the_other_table_is_seen_in_the_proof(sound, of_sound):
    def raised(grid):
        middle = len(grid) // 2
        grid[middle, ..., 0] += round(0.08 * 65535)
        return grid

    stepped = profile_quality(with_grid(sound, "A2B1", raised))
    assert stepped.there.worst_delta_e > 4 * of_sound.there.worst_delta_e
    assert "profile's smoothness in proof" in topics(stepped)


def test_a_cast_of_the_greys_is_told_with_its_sign(sound):
    def redder(grid):
        grid[..., 0] += round(0.04 * 65535)
        return grid

    cast = profile_quality(with_grid(sound, "B2A1", redder))
    (greys,) = (it for it in cast.greys if it.intent is Intent.MEDIA_RELATIVE)
    assert greys.mean_chroma > 1.5
    assert greys.worst_a > 0
    assert "profile's greys" in topics(cast)


def test_white_and_black_are_those_of_the_facts(of_press):
    """FOGRA39L: paper 95, 0, -2; the profile's own inks end above its four solids."""
    assert of_press.facts.white_lab == pytest.approx((95, 0, -2), abs=0.1)
    assert of_press.facts.black_lab[0] < of_press.black_l < 16


def test_ink_of_a_press_is_that_of_its_tables(of_press, fogra39):
    """Between grid points ink is a mean of theirs, so none has more than the most."""
    tags = read_icc(fogra39.data, where="a test").tags
    most = 0.0
    for tag in ("B2A0", "B2A1", "B2A2"):
        *_, grid, curves = read_lut(tags[tag], where="a test").stages
        ink = [
            np.interp(grid.values[..., it], np.linspace(0, 1, len(curve)), curve)
            for it, curve in enumerate(curves.entries)
        ]
        most = max(most, float(np.sum(ink, axis=0).max()))
    assert 100 * most - 10 < of_press.ink_percent <= 100 * most + 0.01
    assert any(
        line.what == "greatest total of inks" for line in profile_lines(of_press)
    )


def test_a_driver_that_mixes_its_own_inks_has_no_total(of_sound):
    assert of_sound.ink_percent is None
    assert all(
        line.what != "greatest total of inks" for line in profile_lines(of_sound)
    )


def test_grey_profile_is_judged_by_its_curve():
    """Y of black over white is 0.02, so its L* is that of 0.02, seen from the paper."""
    quality = profile_quality(grey_output_profile(black_y=0.02))
    assert quality.facts.space == "GRAY"
    assert quality.volume is None
    assert quality.ink_percent is None
    (greys,) = quality.greys
    assert greys.intent is Intent.MEDIA_RELATIVE
    black_xyz = 0.02 * np.array([0.85, 0.88, 0.71])
    assert greys.black_lab == pytest.approx(lab_from_xyz(black_xyz), abs=0.15)
    assert quality.round_trip.p95_delta_e < 0.05
    assert greys.mean_chroma < 0.05
    assert topics(quality) == set()


def test_every_line_has_a_meaning_and_every_warning_a_remedy(of_press, of_sound):
    for quality in (of_press, of_sound):
        lines = profile_lines(quality)
        assert len({line.what for line in lines}) == len(lines)
        for line in lines:
            assert line.value
            assert line.means.endswith(".")
    assert topics(of_sound) == set()


def test_a_white_that_no_paper_has_is_told(sound):
    bleached = rewritten(sound, wtpt=xyz_element((0.9642, 1.0, 0.8249)))
    assert "profile's white" in topics(profile_quality(bleached))


def test_a_byte_changed_since_it_was_made_is_told(paper_profiles):
    """ICC.1:2022, 7.2.18: the ID is an MD5 of all but flags, intent and itself."""
    made = paper_profiles["Sorrel Gloss 255"]
    assert made.data[84:100] == blank_md5(made.data)
    assert topics(profile_quality(made)) == set()
    middle = len(made.data) // 2
    changed = bytearray(made.data)
    changed[middle] ^= 4
    told = profile_quality(profile_from_bytes(bytes(changed), where="a test"))
    assert topics(told) == {"profile's ID"}
    for place in (47, 67):  # Flags and intent may be set by whoever embeds it.
        embedded = bytearray(made.data)
        embedded[place] = 1
        assert profile_facts(bytes(embedded)).is_as_made is True
    assert profile_facts(paper_profiles["Fen Cotton 310"]).is_as_made is None


def blank_md5(data):
    blank = bytearray(data)
    for start, stop in ((44, 48), (64, 68), (84, 100)):
        blank[start:stop] = bytes(stop - start)
    return hashlib.md5(blank, usedforsecurity=False).digest()


def test_missing_table_is_told(sound):
    lacking = rewritten(sound, B2A1=b"", A2B1=b"")
    assert "no table for intent" in topics(profile_quality(lacking))


@pytest.mark.parametrize(
    "tags", [("A2B1",), ("B2A1",), ("B2A0",), ("A2B0", "A2B1", "A2B2")]
)
@pytest.mark.parametrize("version", [(2, 4), (4, 4)])
def test_empty_tables_are_refused(version, tags, sound):
    """Whether compensation finds no black in them, or no white is apart from it."""
    header = IccHeader(version=version, device_class="prtr", space="RGB", pcs="Lab")
    empty = rewritten(emptied(sound, *tags), header=header)
    with pytest.raises(ProfileError, match=r"sound profile|Fetch the profile again"):
        profile_quality(empty)


def test_display_profile_is_refused():
    with pytest.raises(ProfileError, match="made for this paper"):
        profile_quality(named_profile(NamedSpace.SRGB))
