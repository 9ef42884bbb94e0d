"""
A damaged profile is refused in words before a picture is lost in it; sound ones pass.

Each defect is planted into a sound profile, byte by byte as ICC.1:2022 lays it out.
"""

import importlib.resources
import os
import struct
import sys
import time
import tracemalloc
from dataclasses import replace
from pathlib import Path
from time import monotonic

import imagecodecs
import numpy as np
import outside_tools
import pytest
import tifffile
from profile_flaws import grey_output_profile, rewritten_bytes, with_grid

from printplan import convert
from printplan.colour.icc_file import (
    IccHeader,
    gamma_curve_element,
    localized_element,
    lut16_element,
    read_icc,
    sampled_curve_element,
    text_element,
    toe_curve_element,
    write_icc,
    xyz_element,
)
from printplan.colour.profile_gate import (
    require_output_profile,
    require_source_profile,
    require_target_profile,
)
from printplan.colour.profiles import (
    engine_data,
    known_profile,
    open_profile,
    profile_from_bytes,
)
from printplan.colour.spaces import grey_profile, named_profile
from printplan.colour.transforms import device_to_lab
from printplan.errors import ProfileError
from printplan.pixels.master import open_master
from printplan.spec import NamedSpace

SRGB = named_profile(NamedSpace.SRGB).data
MATRIX = IccHeader(version=(4, 4), device_class="mntr", space="RGB", pcs="XYZ")


def refusal(use, *arguments):
    """What is told, at once: within a second and 100 MB."""
    began_s = monotonic()
    tracemalloc.start()
    try:
        with pytest.raises(ProfileError) as caught:
            use(*arguments)
        _, most_bytes = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert monotonic() - began_s < 1
    assert most_bytes < 100e6
    assert caught.value.remedy
    return caught.value.problem


# Tone curves and colorants


def sampled(values):
    return sampled_curve_element(np.rint(np.array(values) * 65535).astype(np.uint16))


RISING = np.linspace(0, 1, 256)
CURVES = {
    # x^-128 has no value at 0; -128 is the least that an exponent in use has, and
    # s15Fixed16Number holds it (10.18 and 4.6).
    "gamma not a number": (gamma_curve_element(-128), "no finite values"),
    "gamma endless": (toe_curve_element(300, 9, 0, 0, 0), "no finite values"),
    "gamma 0": (gamma_curve_element(0), "100% of its range in two codes"),
    "level": (sampled(RISING * 0 + 0.5), "does not rise"),
    "empty": (sampled(RISING * 0), "does not rise"),
    "falling": (sampled(1 - RISING), "does not rise"),
    "falling back": (sampled(np.minimum(RISING, 1.4 - RISING)), "falls, by 43%"),
    "threshold": (sampled(RISING > 0.5), "100% of its range in two codes"),
    "cut short": (sampled(RISING)[:-2], "is cut short"),
    "without a number": (sampled(RISING)[:11], "ends before"),
    "a formula cut short": (gamma_curve_element(2)[:-1], "ends before"),
    "another type": (text_element("2.2"), "unknown type"),
    "an unknown formula": (
        b"para" + struct.pack(">IHHi", 0, 9, 0, 65536),
        "unknown type",
    ),
}


@pytest.mark.parametrize("tag", ["rTRC", "gTRC", "bTRC"])
@pytest.mark.parametrize("defect", CURVES)
def test_a_tone_curve_that_does_not_rise_is_refused(defect, tag):
    element, problem = CURVES[defect]
    data = rewritten_bytes(SRGB, **{tag: element})
    assert problem in refusal(open_profile, data)


@pytest.mark.parametrize("defect", CURVES)
def test_so_is_that_of_a_grey_profile(defect):
    element, problem = CURVES[defect]
    for sound in (grey_profile(NamedSpace.SRGB), grey_output_profile()):
        assert problem in refusal(
            open_profile, rewritten_bytes(sound.data, kTRC=element)
        )


@pytest.mark.parametrize("gamma", [0.2, 0.45, 1.0, 1.8, 2.6, 4.0])
def test_powers_in_use_pass(gamma):
    curve = gamma_curve_element(gamma)
    data = rewritten_bytes(SRGB, rTRC=curve, gTRC=curve, bTRC=curve)
    require_source_profile(open_profile(data))


def test_noise_of_a_measured_curve_passes():
    noise = np.random.default_rng(4).normal(0, 0.003, 256)
    curve = sampled(np.clip(RISING**2.2 + noise, 0, 1))
    data = rewritten_bytes(SRGB, rTRC=curve, gTRC=curve, bTRC=curve)
    require_source_profile(open_profile(data))


COLORANTS = {
    "colorant 0": {"gXYZ": xyz_element((0, 0, 0))},
    "all 0": dict.fromkeys(("rXYZ", "gXYZ", "bXYZ"), xyz_element((0, 0, 0))),
    "two alike": dict.fromkeys(("rXYZ", "gXYZ"), xyz_element((0.4, 0.3, 0.1))),
}


@pytest.mark.parametrize("defect", COLORANTS)
def test_colorants_that_cannot_be_inverted_are_refused(defect):
    data = rewritten_bytes(SRGB, **COLORANTS[defect])
    assert "do not make a space" in refusal(open_profile, data)


def test_a_colorant_of_two_numbers_is_refused():
    data = rewritten_bytes(SRGB, gXYZ=xyz_element((0.3, 0.6, 0.1))[:-4])
    assert "2 numbers of 3" in refusal(open_profile, data)


def test_a_colorant_of_the_wrong_type_is_refused():
    data = rewritten_bytes(SRGB, gXYZ=text_element("green and not red"))
    assert "holds no numbers" in refusal(open_profile, data)


# White, adaptation, connection space


@pytest.mark.parametrize("white", [(0, 0, 0), (0.9, 0, 0.8), (-1, 1, 1), (9, 9, 9)])
def test_a_white_without_light_is_refused(white, fogra39):
    data = rewritten_bytes(fogra39.data, wtpt=xyz_element(white))
    assert "its white is XYZ" in refusal(open_profile, data)


def test_a_white_cut_short_is_refused(fogra39):
    data = rewritten_bytes(fogra39.data, wtpt=xyz_element((0.9, 1, 0.8))[:-8])
    assert "1 numbers of 3" in refusal(open_profile, data)


def test_an_adaptation_of_few_numbers_is_refused():
    """LittleCMS would read nine of them from whatever memory follows."""
    data = rewritten_bytes(SRGB, chad=b"sf32" + bytes(4 + 8 * 4))
    assert "8 numbers of 9" in refusal(open_profile, data)


def test_a_connection_space_that_is_none_is_refused():
    data = SRGB[:20] + b"RGB " + SRGB[24:]
    assert "not in XYZ or CIELAB" in refusal(open_profile, data)


# Tables


def with_element(profile, tag, change):
    element = bytearray(read_icc(profile.data, where="a test").tags[tag])
    return rewritten_bytes(profile.data, **{tag: bytes(change(element))})


def put(place, *values):
    def change(element):
        element[place : place + len(values)] = bytes(values)
        return element

    return change


TABLES = {
    "cut in half": (lambda it: it[: len(it) // 2], "a table holds"),
    "cut to its type": (lambda it: it[:9], "ends before its last stage"),
    "cut by a number": (lambda it: it[:-3], "a table holds"),
    "text": (lambda _: text_element("none" * 9), "which has no place"),
    "other direction": (lambda it: b"mXX " + it[4:], "which has no place"),
    "stages": (lambda it: b"mAB " + it[4:], ""),
    "8 bits": (lambda it: b"mft1" + it[4:], ""),
    "grid 255^4": (put(8, 4, 4, 255), "claims 1.69e+10 numbers"),
    "grid 255^15": (put(8, 15, 15, 255), "numbers, and 1.6e+07 is the most"),
    "grid 1": (put(10, 1), "a table holds"),
    "grid 0": (put(10, 0), "a table holds"),
    "no inputs": (put(8, 0), "0 channels to"),
    "no outputs": (put(9, 0), "channels to 0"),
    "no curves": (put(48, 0, 0), "a table holds"),
    "endless curves": (put(48, 255, 255, 255, 255), "a table holds"),
}


@pytest.mark.parametrize("tag", ["A2B0", "A2B1", "A2B2", "B2A0", "B2A1", "B2A2"])
@pytest.mark.parametrize("defect", TABLES)
def test_a_table_that_is_not_what_it_says_is_refused(defect, tag, fogra39):
    change, problem = TABLES[defect]
    data = with_element(fogra39, tag, change)
    assert problem in refusal(lambda: require_output_profile(open_profile(data)))


def test_a_grid_of_stages_is_refused_before_it_is_made(paper_profiles):
    """lutAToBType (10.12): the grid's place is at byte 24; there, a byte an axis."""
    profile = paper_profiles["Sorrel Gloss 255"]

    def huge(element):
        assert element[:4] == b"mAB "
        (grid,) = struct.unpack_from(">I", element, 24)
        element[grid : grid + 3] = b"\xff" * 3
        return element

    assert "claims 4.97e+07 numbers" in refusal(
        open_profile, with_element(profile, "A2B0", huge)
    )


def test_curves_of_a_table_may_fall(paper_profiles):
    """The grid behind them can turn it: a device that counts the other way round."""
    profile = paper_profiles["Fen Cotton 310"]
    straight = np.tile(np.array([0, 65535], np.uint16), (3, 1))
    axis = np.linspace(0, 1, 9)
    device = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
    lab = device_to_lab(device, profile)
    coded = (lab + np.array([0, 128, 128])) * [652.8, 256, 256]
    turned = lut16_element(
        straight[:, ::-1], np.rint(coded[::-1, ::-1, ::-1]).astype(np.uint16), straight
    )
    sound = profile_from_bytes(
        rewritten_bytes(profile.data, A2B1=turned), where="a test"
    )
    require_output_profile(sound)
    sent = np.random.default_rng(1).random((50, 3))
    lightness = device_to_lab(sent, sound)[:, 0]
    # Nine points along an axis stand in for the profile's own, finer ones.
    assert np.abs(lightness - device_to_lab(sent, profile)[:, 0]).max() < 2


# Greys


def cast(channel, share):
    def change(grid):
        grid[..., channel] += round(share * 65535)
        return grid

    return change


def test_an_output_profile_that_prints_grey_as_red_is_refused(paper_profiles):
    sound = paper_profiles["Fen Cotton 310"]
    red = with_grid(sound, "A2B1", cast(1, 0.3))
    assert "are no greys" in refusal(require_output_profile, red)
    slightly = with_grid(sound, "A2B1", cast(1, 0.02))
    assert require_output_profile(slightly) is slightly


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (lambda grid: grid[::-1], "end at L*"),
        (lambda grid: grid * 0, "end at L*"),
        (lambda grid: grid * 0 + 65535, "a poor paper has some 60"),
        (lambda grid: np.where(grid > 32768, 65535, 0), "tones in 33 steps"),
    ],
    ids=["turned round", "all black", "all white", "black or white"],
)
@pytest.mark.parametrize("tag", ["B2A0", "B2A1", "B2A2"])
def test_an_output_profile_that_prints_no_tones_is_refused(
    change, problem, tag, paper_profiles
):
    damaged = with_grid(paper_profiles["Fen Cotton 310"], tag, change)
    for require in (require_output_profile, require_target_profile):
        assert problem in refusal(require, damaged)
    assert problem in refusal(convert, np.zeros((1, 3)), "srgb", damaged)


def test_a_working_space_whose_greys_are_green_is_refused():
    """Twice the green colorant, as a flipped bit makes it: Y of white is 1.7."""
    green = read_icc(SRGB, where="a test").tags["gXYZ"]
    doubled = tuple(2 * it / 65536 for it in struct.unpack_from(">3i", green, 8))
    damaged = open_profile(rewritten_bytes(SRGB, gXYZ=xyz_element(doubled)))
    assert "end at L* 122" in refusal(require_source_profile, damaged)
    # Without half of blue, white is yellow: its b* is 200 (1 - cbrt(0.57)).
    halved = rewritten_bytes(SRGB, bXYZ=xyz_element((0.07, 0.03, 0.01)))
    assert "are no greys" in refusal(convert, np.zeros((1, 3)), halved, "srgb")


def test_numbers_of_one_device_need_not_be_balanced():
    """Equal red, green and blue of a scanner or a camera may have any colour."""
    scanner = open_profile(
        write_icc(
            IccHeader(version=(4, 4), device_class="scnr", space="RGB", pcs="XYZ"),
            {
                "desc": localized_element("A scanner without its white balance"),
                "rXYZ": xyz_element((0.25, 0.12, 0.01)),
                "gXYZ": xyz_element((0.5, 0.9, 0.1)),
                "bXYZ": xyz_element((0.08, 0.03, 0.4)),
                **dict.fromkeys(("rTRC", "gTRC", "bTRC"), gamma_curve_element(1.8)),
            },
        )
    )
    assert require_source_profile(scanner) is scanner


def test_a_profile_without_its_curves_is_refused():
    lacking = open_profile(rewritten_bytes(SRGB, gTRC=b""))
    assert "No media-relative conversion" in refusal(require_source_profile, lacking)


@pytest.mark.parametrize("kind", ["link", "abst", "nmcl"])
def test_other_kinds_are_refused_as_papers(kind, fogra39):
    other = open_profile(fogra39.data[:12] + kind.encode() + fogra39.data[16:])
    assert f"of class '{kind}'" in refusal(require_output_profile, other)


# Tables of floating-point stages


def test_floating_point_stages_are_left_aside(paper_profiles):
    """What is never read cannot matter."""
    sound = paper_profiles["Sorrel Gloss 255"]
    broken = b"mpet" + struct.pack(">IHHI", 0, 3, 3, 0xFFFFFFFF) + bytes(40)
    data = rewritten_bytes(sound.data, D2B0=broken, D2B1=broken, B2D0=broken)
    both = profile_from_bytes(data, where="a test")
    colours = np.random.default_rng(2).random((40, 3))
    for intent in ("perceptual", "media-relative"):
        assert np.array_equal(
            device_to_lab(colours, both, intent=intent),
            device_to_lab(colours, sound, intent=intent),
        )
    assert engine_data.__wrapped__(sound) is sound.data  # whatever is kept of equals
    assert len(engine_data(both)) == len(data)


# Files


needs_pipes = pytest.mark.skipif(
    sys.platform == "win32", reason="Pipes and devices have other names there."
)


@needs_pipes
def test_what_is_no_file_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.icc")
    assert "is a pipe" in refusal(open_profile, tmp_path / "pipe.icc")
    assert "is a device" in refusal(open_profile, "/dev/zero")
    assert "is a folder" in refusal(open_profile, tmp_path)
    assert "a zero byte" in refusal(open_profile, f"{tmp_path}/a\0b.icc")
    assert "cannot be found by that name" in refusal(open_profile, "n" * 5000)


@needs_pipes
def test_a_master_is_not_read_by_a_damaged_profile(tmp_path):
    """Embedded in it, or assumed for it."""
    pixels = np.random.default_rng(5).integers(0, 255, (20, 30, 3), np.uint8)
    damaged = rewritten_bytes(SRGB, gXYZ=xyz_element((0, 0, 0)))
    tifffile.imwrite(tmp_path / "own.tif", pixels, iccprofile=damaged, metadata=None)
    assert "do not make a space" in refusal(open_master, tmp_path / "own.tif")
    tifffile.imwrite(tmp_path / "bare.tif", pixels, metadata=None)
    (tmp_path / "damaged.icc").write_bytes(damaged)
    os.mkfifo(tmp_path / "pipe.icc")
    for name, problem in {
        str(tmp_path / "damaged.icc"): "do not make a space",
        str(tmp_path / "pipe.icc"): "there is no such file",
        "n" * 300: "cannot be found by that name",
        f"{tmp_path}/a\0b": "there is no such file",
    }.items():
        assert problem in refusal(
            lambda name=name: open_master(tmp_path / "bare.tif", assume_profile=name)
        )


def test_a_file_of_100_mb_is_not_read(tmp_path):
    with (tmp_path / "long.icc").open("wb") as stream:
        stream.write(SRGB)
        stream.truncate(100_000_000)
    assert "longer than 64 MB" in refusal(open_profile, tmp_path / "long.icc")


# Sound ones


@pytest.mark.tools(outside_tools.PROFILES)
@pytest.mark.parametrize(
    "name",
    [
        *("default_cmyk.icc", "ps_cmyk.icc", "gray_to_k.icc", "test1.icc", "test2.icc"),
        *("ISOcoated_v2_300_bas.icc", "TestCLT.icc"),
    ],
)
def test_real_output_profiles_pass(name):
    require_output_profile(open_profile(outside_tools.profiles_folder() / name))


@pytest.mark.tools(outside_tools.PROFILES)
@pytest.mark.parametrize("name", ["default_gray.icc", "test4.icc"])
def test_real_profiles_of_spaces_pass(name):
    profile = open_profile(outside_tools.profiles_folder() / name)
    require_target_profile(require_source_profile(profile))


def test_profiles_that_other_packages_carry_pass():
    """One of the ICC's own, as a PDF library has it for its files."""
    files = importlib.resources.files("fpdf") / "data" / "color_profiles"
    profiles = [it for it in files.iterdir() if it.name.endswith(".icc")]
    assert profiles
    for it in profiles:
        require_target_profile(require_source_profile(open_profile(it.read_bytes())))


MADE = {
    "sRGB": ("srgb", {}),
    "grey": ("gray", {"gamma": 2.2}),
    # ITU-R BT.2020-2, table 3: chromaticities of the primaries and of white.
    "wide": (
        "rgb",
        {
            "whitepoint": (0.3127, 0.3290, 1.0),
            "primaries": (0.708, 0.292, 1.0, 0.170, 0.797, 1.0, 0.131, 0.046, 1.0),
            "gamma": 2.4,
        },
    ),
    # SMPTE ST 2065-1:2012, table 1: all that can be seen, and colours that cannot.
    "widest": (
        "rgb",
        {
            "whitepoint": (0.32168, 0.33767, 1.0),
            "primaries": (0.7347, 0.2653, 1.0, 0.0, 1.0, 1.0, 0.0001, -0.0770, 1.0),
            "gamma": 1.0,
        },
    ),
}


@pytest.mark.parametrize("name", MADE)
def test_profiles_that_littlecms_makes_pass(name):
    kind, arguments = MADE[name]
    data = bytes(imagecodecs.cms_profile(kind, **arguments))
    require_target_profile(require_source_profile(open_profile(data)))


@pytest.mark.parametrize("space", list(NamedSpace))
def test_named_spaces_pass(space):
    for profile in (named_profile(space), grey_profile(space)):
        require_target_profile(require_source_profile(profile))


def test_papers_of_the_demo_and_a_press_pass(paper_profiles, fogra39_path):
    press = open_profile(Path(fogra39_path))
    for profile in (*paper_profiles.values(), press, grey_output_profile()):
        assert require_output_profile(profile) is profile
        require_source_profile(profile)


def test_what_lies_behind_the_list_of_tags_is_left_alone():
    """ICC.1:2022, 7.3: a count, and twelve bytes for each tag."""
    header, count = bytes(128), (2).to_bytes(4)
    tags = b"desc" + bytes(8) + b"B2D1" + bytes(8)
    data = header + count + tags + b"D2B0" + bytes(60)
    profile = replace(named_profile(NamedSpace.SRGB), data=data)
    changed = engine_data(profile)
    assert changed[128 + 4 + 12 :].startswith(b"x2D1")
    assert changed[128 + 4 + 24 :] == data[128 + 4 + 24 :]


def written_again(path, content):
    """With the length and the date that the file had."""
    told = path.stat()
    assert len(content) == told.st_size
    path.write_bytes(content)
    os.utime(path, ns=(told.st_atime_ns, told.st_mtime_ns))


def test_a_known_profile_is_read_again_once_its_file_is_another(tmp_path):
    path = tmp_path / "paper.icc"
    path.write_bytes(SRGB)
    first = known_profile(str(path))
    assert known_profile(str(path)) is first
    other = bytearray(SRGB)
    other[56] ^= 1  # a bit of its attributes (ICC.1:2022, 7.2.14)
    time.sleep(0.02)  # a file system dates changes by its own clock's steps
    written_again(path, bytes(other))
    assert known_profile(str(path)).data == bytes(other)
    path.unlink()
    for _ in range(2):
        with pytest.raises(ProfileError, match="There is no file"):
            known_profile(str(path))


def test_a_known_name_is_a_space_even_where_a_file_has_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("srgb").write_bytes(grey_profile(NamedSpace.OPRGB).data)
    assert known_profile("srgb") is open_profile("srgb")
