"""How does an ink model become an ICC output profile?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.black_point import PERCEPTUAL_BLACK_XYZ
from printplan.colour.icc_file import (
    D50_XYZ,
    IccHeader,
    description_element,
    identity_curve_element,
    localized_element,
    lut16_element,
    sampled_curve_element,
    signature_element,
    stages_element,
    text_element,
    toe_curve_element,
    write_icc,
    xyz_element,
)
from printplan.colour.spaces import lab_from_xyz, xyz_from_lab
from printplan.demo.inks import AskedBlack, InkModel, device_xyz, make_ink_model
from printplan.demo.inversion import (
    FULL,
    FULL_REACH_DE,
    TO_DEVICE_POINTS,
    TO_LAB_POINTS,
    cut_curve,
    device_grid,
    lightness_nodes,
    opponent_nodes,
    reach_cut,
    table_lab,
)
from printplan.demo.renderings import (
    PERCEPTUAL,
    SATURATION,
    Rendering,
    colorimetric_device,
    rendered_device,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.demo.inks import InkedPaper

    Floats = NDArray[np.float64]
    Codes = NDArray[np.uint16]


# Input curves have a point at L* = 100, whose code is 0xFF00: 3840 of 3855 steps.
_CURVE_POINTS = 3856


def write_profile(paper: InkedPaper, printer: str) -> bytes:
    """
    Output profile of an invented paper.

    Parameters
    ----------
    printer : str
        The invented printer's name, in ASCII.

    Returns
    -------
    bytes
        The same bytes for the same arguments.

    Notes
    -----
    Class ``prtr``, RGB to CIELAB, of version 2.4 with three pairs of 16-bit tables
    [1]_, or of version 4.4 (`stages_profile`) if the paper asks for the reference
    medium's black. In version 2 the three tables from device to colour are one: they
    say what is printed. The tables from colour to device differ: media-relative looks
    for the nearest colour, perceptual bends strong colours first, saturation keeps
    them strong, and both scale black unless the paper's own is asked for.
    ICC-absolute colorimetric comes of the paper's white, as it should.

    References
    ----------
    .. [1] ICC.1:2001-04, 6.3.3.1 for the tags, 6.5.7 for the tables.
    """
    model = make_ink_model(paper)
    if paper.asked_black is AskedBlack.REFERENCE:
        return write_stages_profile(model, printer)
    to_lab = _to_lab_codes(model)
    table = _lab_from_codes(to_lab)
    ends = device_xyz(model, np.array([[1.0] * 3, [0.0] * 3]))
    identity = np.tile(np.array([0, FULL], np.uint16), (3, 1))
    printed = lut16_element(identity, to_lab, identity)
    asked = table[0, 0, 0] if paper.asked_black is AskedBlack.OWN else np.zeros(3)
    nearest, reach = _nearest_elements(table)
    tags = {
        "desc": description_element(f"{paper.name}, {printer} (invented)"),
        "cprt": text_element("No rights reserved. Computed, not measured."),
        "dmdd": description_element(f"{printer}, {paper.black_ink}, {paper.name}"),
        "tech": signature_element("ijet"),
        "wtpt": xyz_element(ends[0].tolist()),
        "bkpt": xyz_element(ends[1].tolist()),
        "A2B0": printed,
        "A2B1": printed,
        "A2B2": printed,
        "B2A0": _rendered_element(table, PERCEPTUAL, asked),
        "B2A1": nearest,
        "B2A2": _rendered_element(table, SATURATION, asked),
        "gamt": reach,
    }
    header = IccHeader(version=(2, 4), device_class="prtr", space="RGB", pcs="Lab")
    return write_icc(header, tags)


def _to_lab_codes(model: InkModel) -> Codes:
    steps = np.linspace(0.0, 1.0, TO_LAB_POINTS)
    device = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)
    xyz = device_xyz(model, device)
    return _lab_codes(lab_from_xyz(xyz / xyz[-1, -1, -1] * D50_XYZ))


def _lab_codes(lab: Floats) -> Codes:
    """CIELAB in the 16-bit encoding of version 2 (ICC.1:2001-04, 6.5.7)."""
    codes = np.round(lab * [652.8, 256.0, 256.0] + [0.0, 32768.0, 32768.0])
    return np.clip(codes, 0, FULL).astype(np.uint16)


def _lab_from_codes(codes: NDArray[np.integer] | Floats) -> Floats:
    return (np.asarray(codes, np.float64) - [0.0, 32768.0, 32768.0]) / [
        652.8,
        256.0,
        256.0,
    ]


def _nearest_elements(table: Floats) -> tuple[bytes, bytes]:
    """The media-relative table, and the table that tells what is in reach."""
    curves, lab = _input_curves(black_l=table[0, 0, 0, 0])
    device, distance = colorimetric_device(table, lab)
    share = np.clip(distance / FULL_REACH_DE, 0.0, 1.0)
    points = (TO_DEVICE_POINTS,) * 3
    reach = lut16_element(
        curves,
        np.round(share * FULL).astype(np.uint16).reshape(*points, 1),
        reach_cut()[None],
    )
    return _device_element(curves, device), reach


def _rendered_element(table: Floats, rendering: Rendering, asked: Floats) -> bytes:
    curves, lab = _input_curves(black_l=asked[0])
    return _device_element(curves, rendered_device(rendering, table, lab, asked))


def _input_curves(*, black_l: float) -> tuple[Codes, Floats]:
    """Curves that place the nodes of a colour table, and the nodes' colours."""
    levels, nodes = lightness_nodes(black_l), opponent_nodes(128.0)
    codes = np.linspace(0.0, FULL, _CURVE_POINTS)
    even = np.linspace(0.0, FULL, TO_DEVICE_POINTS)
    curves = np.round(
        [
            np.interp(codes, levels * 652.8, even),
            *[np.interp(codes, nodes * 256 + FULL / 2, even)] * 2,
        ]
    )
    placed = _lab_from_codes(
        np.stack([np.interp(even, curve, codes) for curve in curves], axis=-1)
    )
    lab = np.stack(np.meshgrid(*placed.T, indexing="ij"), axis=-1).reshape(-1, 3)
    return curves.astype(np.uint16), lab


def _device_element(curves: Codes, device: Floats) -> bytes:
    """A table from colour to device whose output curves cut off what runs over."""
    after = np.tile(np.round(cut_curve() * FULL).astype(np.uint16), (3, 1))
    return lut16_element(curves, device_grid(device), after)


# A power with a straight toe puts more nodes where inks are dense. The toe's line
# touches the power, and the power ends at 1.
_POWER, _TOE_END = 0.85, 0.05
_SCALE = 1 / (1 + _TOE_END * (_POWER - 1))
_OFFSET = 1 - _SCALE
_TOE_SLOPE = (_SCALE * _TOE_END + _OFFSET) ** _POWER / _TOE_END

_STAGE_CURVE_POINTS = 4097  # Odd, so that a* = b* = 0 lies on a point.
_NEUTRAL = 128 / 255  # Code of a* = b* = 0 (ICC.1:2022, 6.3.4.2).

# The colour table's second and third axis are a* and b*, turned by 30°.
_TURN = np.array([[np.sqrt(3) / 2, -0.5], [0.5, np.sqrt(3) / 2]])
_FURTHEST = 128 * float(np.abs(_TURN[0]).sum())

# CIELAB's last step, from the three roots of X, Y and Z (ISO/CIE 11664-4), coded.
_LAB_OF_ROOTS = np.array(
    [
        [0.0, 1.16, 0.0, -0.16],
        [500 / 255, -500 / 255, 0.0, _NEUTRAL],
        [0.0, 200 / 255, -200 / 255, _NEUTRAL],
    ]
)


def write_stages_profile(model: InkModel, printer: str) -> bytes:
    """
    Output profile of an invented paper whose tables have five stages.

    Parameters
    ----------
    printer : str
        The invented printer's name.

    Returns
    -------
    bytes
        The same bytes for the same arguments.

    Notes
    -----
    From device to colour: curves that spread the darks, a grid of the square roots
    of X, Y and Z (which light that spreads in paper makes nearly straight), curves
    that scale black and take CIELAB's roots, the matrix of CIELAB's differences.
    From colour to device: curves that place nodes in L*, a matrix that turns a* and
    b*, curves that place nodes on the turned axes, the grid, curves that cut what
    runs over. Perceptual and saturation refer to the black of the perceptual
    reference medium [1]_. Colours are computed under D50, so there is no chromatic
    adaptation to tell [2]_.

    References
    ----------
    .. [1] ICC.1:2022, 6.3.3.
    .. [2] ICC.1:2022, 8.2 for the tags that every profile needs, 8.5 for a printer's.
    """
    paper = model.paper
    roots = _root_codes(model)
    table = _relative_lab(roots)
    asked = np.array([lab_from_xyz(np.array(PERCEPTUAL_BLACK_XYZ))[0], 0.0, 0.0])
    rendered = _to_lab_element(roots, table[0, 0, 0], asked)
    nearest, reach = _nearest_stages(table)
    tags = {
        "desc": localized_element(f"{paper.name}, {printer} (invented)"),
        "cprt": localized_element("No rights reserved. Computed, not measured."),
        "dmdd": localized_element(f"{printer}, {paper.black_ink}, {paper.name}"),
        "tech": signature_element("ijet"),
        "wtpt": xyz_element(device_xyz(model, np.ones(3)).tolist()),
        "A2B0": rendered,
        "A2B1": _to_lab_element(roots, table[0, 0, 0], table[0, 0, 0]),
        "A2B2": rendered,
        "B2A0": _rendered_stages(table, PERCEPTUAL, asked),
        "B2A1": nearest,
        "B2A2": _rendered_stages(table, SATURATION, asked),
        "gamt": reach,
    }
    header = IccHeader(version=(4, 4), device_class="prtr", space="RGB", pcs="Lab")
    return write_icc(header, tags)


def _root_codes(model: InkModel) -> Codes:
    """Square roots of X, Y and Z relative to the paper, at the nodes of the grid."""
    steps = _without_toe(np.linspace(0.0, 1.0, TO_LAB_POINTS))
    device = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)
    xyz = device_xyz(model, device)
    codes: Codes = np.round(np.sqrt(xyz / xyz[-1, -1, -1]) * FULL).astype(np.uint16)
    return codes


def _without_toe(curved: Floats) -> Floats:
    """Device values for what the toe curve makes of them."""
    above = (curved ** (1 / _POWER) - _OFFSET) / _SCALE
    return np.where(curved < _TOE_SLOPE * _TOE_END, curved / _TOE_SLOPE, above)


def _relative_lab(roots: Codes) -> Floats:
    """CIELAB at equal steps of curved device values, twice as many as in the grid."""
    points = 2 * TO_LAB_POINTS - 1
    steps = np.linspace(0.0, 1.0, points)
    curved = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)
    between, _slopes = table_lab(roots / FULL, curved.reshape(-1, 3))
    return lab_from_xyz(between**2 * D50_XYZ).reshape(*(points,) * 3, 3)


def _to_lab_element(roots: Codes, black: Floats, asked_black: Floats) -> bytes:
    """The table from device to colour, with the paper's black where it is asked."""
    share, asked = xyz_from_lab(black) / D50_XYZ, xyz_from_lab(asked_black) / D50_XYZ
    scale = (1 - asked) / (1 - share)
    light = np.linspace(0.0, 1.0, _STAGE_CURVE_POINTS)[:, None] ** 2
    # L* = 116 f - 16 of a grey gives back f, the root that CIELAB takes.
    level = lab_from_xyz((light * scale + 1 - scale)[..., None] * D50_XYZ)[..., 0]
    return stages_element(
        "mAB",
        a=[toe_curve_element(_POWER, _SCALE, _OFFSET, _TOE_SLOPE, _TOE_END)] * 3,
        grid=roots,
        m=[_curve_element((level[:, channel] + 16) / 116) for channel in range(3)],
        matrix=_LAB_OF_ROOTS,
        # Straight, but rounded to 16 bits, where a* = b* = 0 is a code.
        b=[_curve_element(np.array([0.0, 1.0]))] * 3,
    )


def _nearest_stages(table: Floats) -> tuple[bytes, bytes]:
    """The media-relative table, and the table that tells what is in reach."""
    black_l = float(table[0, 0, 0, 0])
    device, distance = colorimetric_device(table, _nodes_lab(black_l))
    share = np.round(np.clip(distance / FULL_REACH_DE, 0.0, 1.0) * FULL)
    reach = share.astype(np.uint16).reshape(*(TO_DEVICE_POINTS,) * 3, 1)
    return (
        _device_stages(black_l, device),
        _from_lab_element(black_l, reach, [sampled_curve_element(reach_cut())]),
    )


def _rendered_stages(table: Floats, rendering: Rendering, asked: Floats) -> bytes:
    black_l = float(asked[0])
    device = rendered_device(rendering, table, _nodes_lab(black_l), asked)
    return _device_stages(black_l, device)


def _nodes_lab(black_l: float) -> Floats:
    """Colours at the nodes of a table from colour to device."""
    axis = opponent_nodes(_FURTHEST)
    nodes = np.stack(
        np.meshgrid(lightness_nodes(black_l), axis, axis, indexing="ij"), axis=-1
    ).reshape(-1, 3)
    nodes[:, 1:] = nodes[:, 1:] @ _TURN
    return nodes


def _device_stages(black_l: float, device: Floats) -> bytes:
    cut = _curve_element(_without_toe(cut_curve()))
    return _from_lab_element(black_l, device_grid(device), [cut] * 3)


def _from_lab_element(black_l: float, grid: Codes, after: list[bytes]) -> bytes:
    even = np.linspace(0.0, 1.0, TO_DEVICE_POINTS)
    codes = np.linspace(0.0, 1.0, _STAGE_CURVE_POINTS)
    lightness = np.interp(codes, lightness_nodes(black_l) / 100, even)
    nodes = opponent_nodes(_FURTHEST) / (2 * _FURTHEST) + 0.5
    opponent = _curve_element(np.interp(codes, nodes, even))
    matrix = np.zeros((3, 4))
    matrix[0, 0] = 1.0
    # Rounded as the profile keeps it, so that neutral stays in the middle.
    matrix[1:, 1:3] = np.round(_TURN * 255 / (2 * _FURTHEST) * 65536) / 65536
    matrix[1:, 3] = 0.5 - _NEUTRAL * matrix[1:, 1:3].sum(axis=1)
    straight = identity_curve_element()
    return stages_element(
        "mBA",
        b=[_curve_element(lightness), straight, straight],
        matrix=matrix,
        m=[straight, opponent, opponent],
        grid=grid,
        a=after,
    )


def _curve_element(values: Floats) -> bytes:
    return sampled_curve_element(np.round(values * FULL).astype(np.uint16))
