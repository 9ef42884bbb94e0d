"""Black points against LittleCMS, two builds of it, and against printed numbers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outside_tools import transicc

from printplan.colour.black_point import (
    PERCEPTUAL_BLACK_XYZ,
    compensate_black_point,
    destination_black_point,
    source_black_point,
)
from printplan.colour.difference import delta_e_2000
from printplan.colour.icc_file import (
    D50_XYZ,
    IccHeader,
    gamma_curve_element,
    localized_element,
    read_icc,
    write_icc,
)
from printplan.colour.profiles import profile_from_bytes
from printplan.colour.spaces import (
    decode,
    lab_from_xyz,
    named_profile,
    xyz_d50_from_linear,
    xyz_from_lab,
)
from printplan.colour.tone import density_to_lightness, lightness_to_density
from printplan.colour.transforms import (
    device_to_lab,
    lab_to_device,
    lcms_convert,
)
from printplan.errors import ProfileError, SpecError
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

TRANSICC_INTENT = {
    Intent.PERCEPTUAL: "0",
    Intent.MEDIA_RELATIVE: "1",
    Intent.SATURATION: "2",
}


def with_tags(profile, version=None, **tags):
    """The same profile with some tables put in other places."""
    icc = read_icc(profile.data, where="test")
    moved = {name: icc.tags[other] for name, other in tags.items() if other in icc.tags}
    header = IccHeader(
        version=version or icc.header.version,
        device_class=icc.header.device_class,
        space=icc.header.space,
        pcs=icc.header.pcs,
    )
    return profile_from_bytes(write_icc(header, {**icc.tags, **moved}), where="test")


def bent(profile):
    """The same profile with lightness bent on its way to the device."""
    icc = read_icc(profile.data, where="test")
    table = bytearray(icc.tags["B2A1"])
    assert table[:4] == b"mft2"
    entries = int.from_bytes(table[48:50], "big")
    curve = np.linspace(0, 1, entries) ** 1.3
    table[52 : 52 + 2 * entries] = np.rint(curve * 65280).astype(">u2").tobytes()
    tags = {**icc.tags, "B2A1": bytes(table)}
    return profile_from_bytes(write_icc(icc.header, tags), where="test")


@pytest.fixture
def outputs(fogra39, paper_profiles):
    """Real and demo profiles, and some that take the rarer ways."""
    cotton = paper_profiles["Fen Cotton 310"]
    return {
        "press": fogra39,
        "cotton": cotton,
        "bent press": bent(fogra39),
        "bent cotton": bent(cotton),
        "version 4 press": with_tags(fogra39, version=(4, 2)),
    }


@pytest.fixture(scope="module")
def colours():
    rng = np.random.default_rng(21)
    grey = np.repeat(np.linspace(0, 65535, 52)[:, None], 3, axis=1)
    drawn = rng.integers(0, 65536, (250, 3))
    return np.rint(np.concatenate([grey, drawn])).astype(np.uint16)


def assert_nearly_equal(ours, judged, profile):
    # A twentieth of an 8-bit step, and far below what can be seen.
    assert np.abs(ours / 257 - judged / 257).max() <= 0.05
    lab = [
        device_to_lab(device, profile, intent=Intent.MEDIA_RELATIVE)
        for device in (ours, judged)
    ]
    assert delta_e_2000(*lab).max() <= 0.02


def compensated(colours, source, target, intent, *, tint=1):
    """Our own formula between the two colorimetric ends."""
    blacks = (
        xyz_from_lab(source_black_point(source, intent) * [1, tint, tint]),
        xyz_from_lab(destination_black_point(target, intent) * [1, tint, tint]),
    )
    readable = with_tags(source, A2B1=f"A2B{TRANSICC_INTENT[intent]}")
    lab = device_to_lab(colours[None], readable, intent=Intent.MEDIA_RELATIVE)
    mapped = lab_from_xyz(compensate_black_point(xyz_from_lab(lab), *blacks))
    # The intent's table read as the colorimetric one, so that the engine adds no
    # compensation of its own, as it does unasked for version 4.
    plain = with_tags(target, B2A1=f"B2A{TRANSICC_INTENT[intent]}")
    return lab_to_device(mapped, plain, intent=Intent.MEDIA_RELATIVE)


OUTPUTS = ["press", "cotton", "bent press", "bent cotton", "version 4 press"]


@pytest.mark.parametrize("intent", list(TRANSICC_INTENT))
@pytest.mark.parametrize("name", OUTPUTS)
def test_compensation_agrees_with_the_engine(colours, outputs, name, intent):
    """The same numbers as LittleCMS' own compensation."""
    source, target = named_profile(NamedSpace.SRGB), outputs[name]
    engine = lcms_convert(
        colours[None],
        source,
        target,
        intent=intent,
        black_point_compensation=BlackPointCompensation.ON,
    )
    assert_nearly_equal(compensated(colours, source, target, intent), engine, target)


# LittleCMS 2.14 takes a paper's darkest colorant as neutral, where 2.18 keeps its
# tint, and fits the bent paper's black along a neutral ramp; presses are the same.
@pytest.mark.tools("transicc")
@pytest.mark.parametrize("intent", list(TRANSICC_INTENT))
@pytest.mark.parametrize(
    ("name", "tint"),
    [("press", 1), ("bent press", 1), ("version 4 press", 1), ("cotton", 0)],
)
def test_compensation_agrees_with_transicc(
    colours, outputs, name, tint, intent, tmp_path
):
    """The same numbers as the build that Debian ships."""
    source, target = named_profile(NamedSpace.SRGB), outputs[name]
    (tmp_path / "source.icc").write_bytes(source.data)
    (tmp_path / "target.icc").write_bytes(target.data)
    printed = transicc(
        colours / 257,
        "-b",
        f"-t{TRANSICC_INTENT[intent]}",
        f"-i{tmp_path / 'source.icc'}",
        f"-o{tmp_path / 'target.icc'}",
    )
    scale = 100 if target.space == "CMYK" else 255
    debian = np.rint(np.clip(printed / scale, 0, 1) * 65535).astype(np.uint16)[None]
    ours = compensated(colours, source, target, intent, tint=tint)
    assert_nearly_equal(ours, debian, target)


@pytest.mark.parametrize("intent", list(TRANSICC_INTENT))
@pytest.mark.parametrize("name", ["Fen Cotton 310", "press"])
def test_source_black_agrees_with_the_engine(name, intent, paper_profiles, fogra39):
    """A print's own numbers taken back to a working space, black to black."""
    source = fogra39 if name == "press" else paper_profiles[name]
    target = named_profile(NamedSpace.SRGB)
    rng = np.random.default_rng(22)
    ramp = np.linspace(0, 65535, 50)[:, None].repeat(source.channels, axis=1)
    drawn = rng.integers(0, 65536, (200, source.channels))
    device = np.rint(np.concatenate([ramp, drawn])).astype(np.uint16)
    engine = lcms_convert(
        device[None],
        source,
        target,
        intent=intent,
        black_point_compensation=BlackPointCompensation.ON,
    )
    assert_nearly_equal(compensated(device, source, target, intent), engine, target)


def test_compensation_can_be_seen_at_all(colours, fogra39):
    """Without the formula the same comparison fails by far."""
    source = named_profile(NamedSpace.SRGB)
    ours = compensated(colours, source, fogra39, Intent.MEDIA_RELATIVE)
    plain = lcms_convert(
        colours[None],
        source,
        fogra39,
        intent=Intent.MEDIA_RELATIVE,
        black_point_compensation=BlackPointCompensation.OFF,
    )
    assert np.abs(ours / 257 - plain / 257).max() > 5


def test_grey_20_of_srgb_lands_at_14_178():
    # By hand from IEC 61966-2-1, CIE 15 and ISO 18619: (20/255 + 0.055) / 1.055 to
    # the power 2.4 is Y = 0.006995; with a black of L* 9.551, Y = 0.010574, it
    # becomes 0.006995 + 0.010574 - 0.006995 · 0.010574 = 0.017495, L* 14.178.
    grey = np.full(3, 20 / 255)
    xyz = xyz_d50_from_linear(NamedSpace.SRGB) @ decode(NamedSpace.SRGB, grey)
    black = xyz_from_lab(np.array([9.551, 0, 0]))
    lab = lab_from_xyz(compensate_black_point(xyz, (0, 0, 0), black))
    assert lab == pytest.approx([14.178, 0, 0], abs=0.01)


# LittleCMS 2.14's own detection, read from its conversions; ±0.02 for the 8 bits
# of its device values.
@pytest.mark.parametrize(
    ("intent", "black_l"), [(Intent.MEDIA_RELATIVE, 9.551), (Intent.PERCEPTUAL, 11.149)]
)
def test_fogra39_destination_black(fogra39, intent, black_l):
    assert destination_black_point(fogra39, intent) == pytest.approx(
        [black_l, 0, 0], abs=0.02
    )


@pytest.mark.tools("transicc")
@pytest.mark.parametrize("intent", list(TRANSICC_INTENT))
@pytest.mark.parametrize("name", ["Fen Cotton 310", "Alder Satin 260"])
def test_source_black_is_the_darkest_colorant(name, intent, paper_profiles, tmp_path):
    """Read by each intent's own table, as the command line reads it."""
    profile = paper_profiles[name]
    (tmp_path / "paper.icc").write_bytes(profile.data)
    read = transicc(
        [[0, 0, 0]],
        f"-t{TRANSICC_INTENT[intent]}",
        f"-i{tmp_path / 'paper.icc'}",
        "-o*Lab2",
    )
    # Printed to 4 decimals.
    assert source_black_point(profile, intent) == pytest.approx(read[0], abs=1e-3)


@pytest.mark.parametrize("name", ["Fen Cotton 310", "press"])
def test_bent_ramp_has_its_black_fitted(name, paper_profiles, fogra39):
    """Midtones more than 4 off: the first guess is given up (ISO 18619, 4.2.5)."""
    profile = bent(fogra39 if name == "press" else paper_profiles[name])
    guess = source_black_point(profile, Intent.MEDIA_RELATIVE)
    fitted = destination_black_point(profile, Intent.MEDIA_RELATIVE)
    assert abs(guess[0] - fitted[0]) > 0.5
    assert np.array_equal(guess[1:], fitted[1:])


def test_matrix_space_has_black_zero():
    for space in NamedSpace:
        for intent in TRANSICC_INTENT:
            black = destination_black_point(named_profile(space), intent)
            assert black == pytest.approx([0, 0, 0], abs=1e-4)


def test_grey_profile_has_a_black():
    header = IccHeader(version=(2, 4), device_class="mntr", space="GRAY", pcs="XYZ")
    tags = {"desc": localized_element("Grey"), "kTRC": gamma_curve_element(2.2)}
    grey = profile_from_bytes(write_icc(header, tags), where="test")
    black = destination_black_point(grey, Intent.MEDIA_RELATIVE)
    assert black == pytest.approx([0, 0, 0], abs=1e-4)


def test_version_4_tables_have_the_reference_black(fogra39):
    # color.org, Perceptual reference medium: black 0.30911 % beside white 89 %;
    # media-relative that is L* 3.1373. The tag's XYZ has 5 decimals.
    profile = with_tags(fogra39, version=(4, 2))
    assert PERCEPTUAL_BLACK_XYZ[1] == pytest.approx(0.0030911 / 0.89, abs=5e-8)
    for black in (source_black_point, destination_black_point):
        lab = black(profile, Intent.PERCEPTUAL)
        assert lab[0] == pytest.approx(3.1373, abs=1e-4)
        assert np.abs(lab[1:]).max() <= 0.1


def test_profile_without_the_intents_table_counts_as_black_zero(fogra39):
    icc = read_icc(fogra39.data, where="test")
    tags = {name: icc.tags[name] for name in icc.tags if name not in {"A2B0", "B2A0"}}
    bare = profile_from_bytes(write_icc(icc.header, tags), where="test")
    assert not source_black_point(bare, Intent.PERCEPTUAL).any()


@given(
    st.floats(0, 50),
    st.floats(0, 50),
    st.lists(st.floats(0, 1), min_size=3, max_size=3),
)
@settings(max_examples=60, deadline=None)
def test_compensation_moves_black_to_black_and_keeps_white(source_l, target_l, share):
    source, target = (
        xyz_from_lab(np.array([black_l, 0, 0])) for black_l in (source_l, target_l)
    )
    moved = compensate_black_point(source, source, target)
    assert moved == pytest.approx(target, abs=1e-12)
    white = compensate_black_point(D50_XYZ, source, target)
    assert white == pytest.approx(D50_XYZ)
    # And the way back undoes it.
    xyz = np.array(share) * D50_XYZ
    there = compensate_black_point(xyz, source, target)
    back = compensate_black_point(there, target, source)
    assert back == pytest.approx(xyz, abs=1e-12)


# CIE L* of Y = 10^-D: 116 · 0.01^(1/3) - 16 and 116 · 10^(-1.6/3) - 16.
@pytest.mark.parametrize(
    ("density", "black_l"), [(2.0, 8.991), (1.6, 17.972), (0, 100)]
)
def test_density_to_lightness(density, black_l):
    assert density_to_lightness(density) == pytest.approx(black_l, abs=5e-4)


@given(st.floats(0, 5))
def test_lightness_to_density_undoes_density_to_lightness(density):
    again = lightness_to_density(density_to_lightness(density))
    assert again == pytest.approx(density, abs=1e-9)


def test_senseless_numbers_are_refused():
    with pytest.raises(SpecError, match="0 or more"):
        density_to_lightness(-0.1)
    with pytest.raises(SpecError, match="above 0 and up to 100"):
        lightness_to_density(0)
    with pytest.raises(SpecError, match="black of the source first"):
        compensate_black_point(np.zeros(3), (0.9642, 1, 0.8249), (0, 0, 0))


def test_profiles_and_intents_without_a_black_are_refused(fogra39):
    with pytest.raises(SpecError, match="Ask for the media-relative"):
        destination_black_point(fogra39, Intent.ICC_ABSOLUTE)
    data = bytearray(fogra39.data)
    data[12:16] = b"abst"
    abstract = profile_from_bytes(bytes(data), where="test")
    with pytest.raises(ProfileError, match="of a device or a working space"):
        source_black_point(abstract, Intent.PERCEPTUAL)


def test_ramp_that_does_not_get_lighter_is_refused(fogra39):
    """A device table that gives the same ink everywhere."""
    icc = read_icc(fogra39.data, where="test")
    table = bytearray(icc.tags["B2A0"])
    head, inputs, outputs, grid = 52, table[8], table[9], table[10]
    entries = int.from_bytes(table[48:50], "big")
    start = head + 2 * inputs * entries
    table[start : start + 2 * grid**inputs * outputs] = bytes(
        2 * grid**inputs * outputs
    )
    flat = profile_from_bytes(
        write_icc(icc.header, {**icc.tags, "B2A0": bytes(table)}), where="test"
    )
    with pytest.raises(ProfileError, match="sound profile"):
        destination_black_point(flat, Intent.PERCEPTUAL)
