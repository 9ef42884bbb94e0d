"""A profile's tables are read stage by stage, as LittleCMS reads them."""

import struct

import numpy as np
import pytest
from profile_flaws import rewritten
from test_transforms import as_linear, transicc

from printplan.colour.conversion import linear_to_device
from printplan.colour.icc_file import (
    IccHeader,
    fixed_element,
    gamma_curve_element,
    identity_curve_element,
    localized_element,
    lut16_element,
    read_icc,
    sampled_curve_element,
    stages_element,
    toe_curve_element,
    write_icc,
    xyz_element,
)
from printplan.colour.icc_tables import Curves, Grid, Matrix, read_lut
from printplan.colour.profiles import profile_from_bytes
from printplan.colour.proof import device_to_screen, rendered_device
from printplan.colour.spaces import named_profile
from printplan.errors import ProfileError
from printplan.spec import BlackPointCompensation, Intent, NamedSpace

OFF = BlackPointCompensation.OFF
SRGB = named_profile(NamedSpace.SRGB)
STRAIGHT = identity_curve_element()
TURN = np.array([[0.9, 0.05, 0.0, 0.02], [0, 0.8, 0.1, 0.05], [0.05, 0, 0.85, 0.03]])


def bent(power, entries=33):
    steps = np.linspace(0, 1, entries) ** power
    return sampled_curve_element(np.rint(steps * 65535).astype(np.uint16))


def grid(*points, outputs=3):
    """Device values that fall and rise along the axes, not the same in any two."""
    axes = np.meshgrid(*[np.linspace(0, 1, count) for count in points], indexing="ij")
    mixed = [
        0.1 + 0.75 * axes[it % 3] + 0.1 * np.sin(3 * axes[(it + 1) % 3])
        for it in range(outputs)
    ]
    return np.rint(np.stack(mixed, -1).clip(0, 1) * 65535).astype(np.uint16)


def lut8(table):
    """lut8Type of an 8-bit grid with bent curves (ICC.1:2022, 10.11)."""
    points, outputs = table.shape[0], table.shape[-1]
    before = (np.linspace(0, 1, 256) ** 0.8 * 255).round().astype(np.uint8)
    after = (np.linspace(0, 1, 256) ** 1.3 * 255).round().astype(np.uint8)
    head = struct.pack(">4s4xBBBx", b"mft1", 3, outputs, points)
    matrix = struct.pack(">9i", *[65536, 0, 0, 0, 65536, 0, 0, 0, 65536])
    body = (table >> 8).astype(np.uint8)
    return head + matrix + bytes(before) * 3 + body.tobytes() + bytes(after) * outputs


CODES = np.stack([np.linspace(0, 65535, 5).astype(np.uint16)] * 3)
TABLES = {
    "8 bits": ("Lab", (2, 4), lut8(grid(9, 9, 9))),
    "16 bits": ("Lab", (2, 4), lut16_element(CODES, grid(9, 9, 9), CODES)),
    "16 bits on XYZ": ("XYZ", (2, 4), lut16_element(CODES, grid(17, 17, 17), CODES)),
    "four inks": (
        "Lab",
        (2, 4),
        lut16_element(CODES, grid(9, 9, 9, outputs=4), np.stack([CODES[0]] * 4)),
    ),
    "B alone": ("Lab", (4, 4), stages_element("mBA", b=[bent(0.7)] * 3)),
    "B, matrix, M": (
        "Lab",
        (4, 4),
        stages_element("mBA", b=[STRAIGHT] * 3, matrix=TURN, m=[bent(1.4)] * 3),
    ),
    "B, grid, A": (
        "Lab",
        (4, 4),
        stages_element(
            "mBA",
            b=[bent(0.9)] * 3,
            grid=grid(9, 9, 9),
            a=[gamma_curve_element(1.8)] * 3,
        ),
    ),
    "all": (
        "Lab",
        (4, 4),
        stages_element(
            "mBA",
            b=[bent(0.9), STRAIGHT, gamma_curve_element(1.1)],
            matrix=TURN,
            m=[
                toe_curve_element(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045),
                bent(1.2, 5),
                bent(0.8, 257),
            ],
            grid=grid(9, 9, 9),
            a=[STRAIGHT, bent(1.3), gamma_curve_element(0.6)],
        ),
    ),
    "all on XYZ": (
        "XYZ",
        (4, 4),
        stages_element(
            "mBA",
            b=[STRAIGHT] * 3,
            matrix=TURN,
            m=[gamma_curve_element(0.5)] * 3,
            grid=grid(17, 17, 17),
            a=[STRAIGHT] * 3,
        ),
    ),
    "uneven grid": (
        "Lab",
        (4, 4),
        stages_element("mBA", b=[STRAIGHT] * 3, grid=grid(5, 9, 17), a=[STRAIGHT] * 3),
    ),
    "grid without a common step": (
        "Lab",
        (4, 4),
        stages_element(
            "mBA", b=[STRAIGHT] * 3, grid=grid(12, 14, 18), a=[STRAIGHT] * 3
        ),
    ),
    "four inks by stages": (
        "Lab",
        (4, 4),
        stages_element(
            "mBA",
            b=[STRAIGHT] * 3,
            grid=grid(9, 9, 9, outputs=4),
            a=[bent(1.1), bent(0.9), STRAIGHT, gamma_curve_element(1.5)],
        ),
    ),
}


def paper_of(pcs, version, element, *, way="B2A"):
    outputs = element[9] if way == "B2A" else element[8]
    header = IccHeader(
        version=version,
        device_class="prtr",
        space="CMYK" if outputs == 4 else "RGB",
        pcs=pcs,
    )
    tags = {
        "desc": localized_element("A test"),
        "cprt": localized_element("None"),
        "wtpt": xyz_element((0.9642, 1.0, 0.8249)),
        "chad": fixed_element([1, 0, 0, 0, 1, 0, 0, 0, 1]),
        f"{way}0": element,
        f"{way}1": element,
    }
    return profile_from_bytes(write_icc(header, tags), where="a test")


@pytest.fixture(scope="module")
def codes():
    rng = np.random.default_rng(17)
    greys = np.repeat(np.linspace(0, 65535, 20)[:, None], 3, axis=1)
    return np.concatenate([greys, rng.integers(0, 65536, (200, 3))]).astype(np.uint16)


@pytest.mark.tools("transicc")
@pytest.mark.parametrize("name", TABLES)
def test_colours_go_to_the_device_by_the_tables_own_stages(name, codes, tmp_path):
    paper = paper_of(*TABLES[name])
    judged = transicc(codes / 257, SRGB, paper, Intent.MEDIA_RELATIVE, OFF, tmp_path)
    judged = np.clip(judged / (100 if paper.space == "CMYK" else 255), 0, 1) * 65535
    device = linear_to_device(
        SRGB, paper, intent=Intent.MEDIA_RELATIVE, black_point_compensation=OFF
    ).from_linear(as_linear(codes, SRGB))[0]
    # 0.07 of 255; curves with a steep foot are sampled, the rest is single precision.
    assert np.abs(device - judged).max() <= 0.07 * 257


ENDS = np.array([[0, 65535]] * 3, np.uint16)
# Real colours: L* from 20, a* and b* within 30 behind the table's last curves.
REAL = grid(9, 9, 9) * np.array([0.6, 0.2, 0.2]) + np.array([0.3, 0.49, 0.49]) * 65535
EIGHT_BITS = lut8(REAL.astype(np.uint16))
NODES = {
    "16 bits": (
        (2, 4),
        lambda table: lut16_element(ENDS, table, ENDS),
        lambda steps: steps * 65535 / np.array([652.8, 256, 256]) - [0, 128, 128],
    ),
    "B, grid, A": (
        (4, 4),
        lambda table: stages_element(
            "mBA", b=[STRAIGHT] * 3, grid=table, a=[STRAIGHT] * 3
        ),
        lambda steps: steps * [100, 255, 255] - [0, 128, 128],
    ),
}
"""CIELAB at steps from 0 to 1 along the axes (ICC.1:2022, 10.10 and 10.12)."""


@pytest.mark.parametrize("name", NODES)
def test_a_colour_on_a_node_gets_the_codes_that_are_there(name):
    """There is nothing to interpolate: a code less or more is wrong."""
    version, element, lab_at = NODES[name]
    off = np.random.default_rng(23).integers(-40, 41, (9, 9, 9, 3))
    table = (grid(9, 9, 9) + off).astype(np.uint16)
    # Real colours: lighter than L* 25, within 33 of grey along a* and b*.
    places = np.stack(
        np.meshgrid(range(2, 8), range(3, 6), range(3, 6), indexing="ij"), -1
    ).reshape(-1, 3)
    device = rendered_device(
        lab_at(places / 8),
        paper_of("Lab", version, element(table)),
        Intent.MEDIA_RELATIVE,
        OFF,
    )
    wanted = table[tuple(places.T)].astype(int)
    # All is done in single precision, and rounded to a code at the end.
    assert np.abs(device.astype(int) - wanted).max() == 0


@pytest.mark.tools("transicc")
@pytest.mark.parametrize("name", ["stages to Lab", "stages to XYZ", "8 bits"])
def test_device_values_come_to_the_screen_by_the_tables_own_stages(
    name, codes, tmp_path
):
    stages = stages_element(
        "mAB",
        a=[bent(0.9), STRAIGHT, gamma_curve_element(1.2)],
        grid=grid(9, 9, 9),
        m=[bent(1.1)] * 3,
        matrix=TURN,
        b=[STRAIGHT, bent(0.95), STRAIGHT],
    )
    pcs = name.split()[-1] if "stages" in name else "Lab"
    version, element = ((4, 4), stages) if "stages" in name else ((2, 4), EIGHT_BITS)
    paper = paper_of(pcs, version, element, way="A2B")
    judged = transicc(codes / 257, paper, SRGB, Intent.MEDIA_RELATIVE, OFF, tmp_path)
    shown = device_to_screen(paper, Intent.MEDIA_RELATIVE).from_device(codes[None])[0]
    # Half an 8-bit step for rounding.
    assert np.abs(shown - np.clip(judged, 0, 255)).max() <= 0.6


def test_a_table_of_other_channels_than_the_device_proofs_nothing(fogra39):
    """A way to a press in the place of the way back."""
    tags = read_icc(fogra39.data, where="the test").tags
    swapped = rewritten(fogra39, A2B0=tags["B2A0"], A2B1=tags["B2A1"])
    with pytest.raises(ProfileError, match=r"3 channels to 4; its device has 4"):
        device_to_screen(swapped, Intent.MEDIA_RELATIVE)


def test_stages_that_change_nothing_are_left_out():
    element = stages_element(
        "mBA",
        b=[STRAIGHT] * 3,
        matrix=np.eye(3, 4),
        m=[STRAIGHT] * 3,
        grid=grid(5, 5, 5),
        a=[bent(1.2)] * 3,
    )
    kinds = [type(stage) for stage in read_lut(element, where="a test").stages]
    assert kinds == [Grid, Curves]
    turned = TABLES["B, matrix, M"][2]
    kinds = [type(stage) for stage in read_lut(turned, where="a test").stages]
    assert kinds == [Matrix, Curves]


def test_a_profile_without_a_table_to_its_device_is_refused():
    stages = stages_element("mAB", b=[bent(1.1)] * 3)
    paper = paper_of("Lab", (4, 4), stages, way="A2B")
    with pytest.raises(ProfileError, match="output profile made for this paper"):
        rendered_device(np.array([[50.0, 0, 0]]), paper, Intent.MEDIA_RELATIVE, OFF)


@pytest.mark.parametrize("name", ["8 bits", "16 bits", "all", "B, matrix, M"])
def test_a_table_cut_anywhere_is_refused_in_words(name):
    element = TABLES[name][2]
    whole = read_lut(element, where="a test")
    assert whole.inputs == whole.outputs == 3
    for length in range(4, len(element) - 4, max(len(element) // 60, 1)):
        with pytest.raises(ProfileError, match="this one is damaged"):
            read_lut(element[:length], where="a test")


def test_the_fallback_is_the_perceptual_table(codes):
    """ICC.1:2022, 9.2: what is not there is rendered by the first table."""
    icc = read_icc(paper_of(*TABLES["16 bits"]).data, where="a test")
    tags = {tag: data for tag, data in icc.tags.items() if tag != "B2A1"}
    bare = profile_from_bytes(write_icc(icc.header, tags), where="a test")
    linear = as_linear(codes, SRGB)
    one, other = (
        linear_to_device(SRGB, bare, intent=intent, black_point_compensation=OFF)
        for intent in (Intent.MEDIA_RELATIVE, Intent.PERCEPTUAL)
    )
    assert (one.from_linear(linear) == other.from_linear(linear)).all()
