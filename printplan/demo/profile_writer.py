"""How does an ink model become an ICC output profile?"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

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
from printplan.demo.inks import InkModel, PerceptualBlack, device_xyz, make_ink_model
from printplan.demo.inversion import (
    FULL,
    FULL_SCALE_DE,
    TO_DEVICE_POINTS,
    TO_LAB_POINTS,
    cut_curve,
    device_grid,
    gamut_cut,
    lightness_nodes,
    opponent_nodes,
    table_lab,
)
from printplan.demo.renderings import (
    PERCEPTUAL,
    SATURATION,
    colorimetric_device,
    rendered_device,
)

if TYPE_CHECKING:
    from printplan.demo.inks import InkedPaper

Floats = NDArray[np.float64]
Codes = NDArray[np.uint16]


# Input curves have a point at L* = 100, whose code is 0xFF00: 3840 of 3855 steps.
_CURVE_POINTS = 3856
_LAB_SCALE, _LAB_ZERO = [652.8, 256.0, 256.0], [0.0, 32768.0, 32768.0]


Element = Callable[[Codes, Codes], bytes]
"""Makes a table from colour to device of its grid and the curve behind it."""


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
    [1]_, or of version 4.4 with tables of five stages if the paper's perceptual black
    is that of the reference medium [2]_. The tables from colour to device differ:
    media-relative looks for the nearest colour, perceptual bends strong colours first,
    saturation keeps them strong, and both scale black unless it is the paper's own.
    ICC-absolute colorimetric comes of the paper's white, as it should.

    References
    ----------
    .. [1] ICC.1:2001-04, 6.3.3.1 for the tags, 6.5.7 for the tables.
    .. [2] ICC.1:2022, 8.2 for the tags that every profile needs, 8.5 for a printer's.
       Colours are computed under D50, so there is no chromatic adaptation to tell.
    """
    model = make_ink_model(paper)
    ends = device_xyz(model, np.array([[1.0] * 3, [0.0] * 3]))
    staged = paper.perceptual_black is PerceptualBlack.REFERENCE
    name = localized_element if staged else description_element
    rights = localized_element if staged else text_element
    tags = {
        "desc": name(f"{paper.name}, {printer} (invented)"),
        "cprt": rights("No rights reserved. Computed, not measured."),
        "dmdd": name(f"{printer}, {paper.black_ink}, {paper.name}"),
        "tech": signature_element("ijet"),
        "wtpt": xyz_element(ends[0].tolist()),
    }
    if not staged:
        tags["bkpt"] = xyz_element(ends[1].tolist())
    tags |= _staged_tables(model) if staged else _lut16_tables(model)
    version = (4, 4) if staged else (2, 4)
    header = IccHeader(version=version, device_class="prtr", space="RGB", pcs="Lab")
    return write_icc(header, tags)


def _to_device_tables(
    table: Floats,
    black: Floats,
    nodes: Callable[[float], tuple[Floats, Element]],
    cut: Floats,
) -> dict[str, bytes]:
    """
    Tables from colour to device, and the one that tells what is in gamut.

    Of `nodes` come the colours at the nodes of a grid, and what makes an element of
    it, for the L* of its black. The curve `cut` cuts off what runs over in the grid.
    """
    after = _codes(cut)
    lab, element = nodes(float(table[0, 0, 0, 0]))
    device, distance = colorimetric_device(table, lab)
    share = _codes(np.clip(distance / FULL_SCALE_DE, 0.0, 1.0))
    nearest = element(device_grid(device), after)
    gamut = element(share.reshape(*(TO_DEVICE_POINTS,) * 3, 1), gamut_cut())
    lab, element = nodes(float(black[0]))
    perceptual, saturation = (
        element(device_grid(rendered_device(rendering, table, lab, black)), after)
        for rendering in (PERCEPTUAL, SATURATION)
    )
    return {"B2A0": perceptual, "B2A1": nearest, "B2A2": saturation, "gamt": gamut}


def _codes(values: Floats) -> Codes:
    return np.round(values * FULL).astype(np.uint16)


def _lut16_tables(model: InkModel) -> dict[str, bytes]:
    """Tables of version 2. The three from device to colour are one: what is printed."""
    steps = np.linspace(0.0, 1.0, TO_LAB_POINTS)
    device = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)
    xyz = device_xyz(model, device)
    to_lab = _lab_codes(lab_from_xyz(xyz / xyz[-1, -1, -1] * D50_XYZ))
    table = _lab_from_codes(to_lab)
    own = model.paper.perceptual_black is PerceptualBlack.OWN
    black = table[0, 0, 0] if own else np.zeros(3)
    identity = np.tile(np.array([0, FULL], np.uint16), (3, 1))
    printed = lut16_element(identity, to_lab, identity)
    return dict.fromkeys(("A2B0", "A2B1", "A2B2"), printed) | _to_device_tables(
        table, black, _lut16_nodes, cut_curve()
    )


def _lab_codes(lab: Floats) -> Codes:
    """CIELAB in the 16-bit encoding of version 2 (ICC.1:2001-04, 6.5.7)."""
    codes = np.round(lab * _LAB_SCALE + _LAB_ZERO)
    return np.clip(codes, 0, FULL).astype(np.uint16)


def _lab_from_codes(codes: NDArray[np.integer] | Floats) -> Floats:
    return (np.asarray(codes, np.float64) - _LAB_ZERO) / _LAB_SCALE


def _lut16_nodes(black_l: float) -> tuple[Floats, Element]:
    """Colours at the nodes of a grid behind curves that place them."""
    levels, opponents = lightness_nodes(black_l), opponent_nodes(128.0)
    codes = np.linspace(0.0, FULL, _CURVE_POINTS)
    even = np.linspace(0.0, FULL, TO_DEVICE_POINTS)
    curves = np.round(
        [
            np.interp(codes, levels * 652.8, even),
            *[np.interp(codes, opponents * 256 + FULL / 2, even)] * 2,
        ]
    )
    placed = _lab_from_codes(
        np.stack([np.interp(even, curve, codes) for curve in curves], axis=-1)
    )
    lab = np.stack(np.meshgrid(*placed.T, indexing="ij"), axis=-1).reshape(-1, 3)
    before = curves.astype(np.uint16)
    return lab, lambda grid, after: lut16_element(
        before, grid, np.tile(after, (grid.shape[-1], 1))
    )


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


def _staged_tables(model: InkModel) -> dict[str, bytes]:
    """
    Tables of version 4, of five stages each.

    From device to colour: curves that spread the darks, a grid of the square roots
    of X, Y and Z (which light that spreads in paper makes nearly straight), curves
    that scale black and take CIELAB's roots, the matrix of CIELAB's differences.
    From colour to device: curves that place nodes in L*, a matrix that turns a* and
    b*, curves that place nodes on the turned axes, the grid, curves that cut what
    runs over. Perceptual and saturation refer to the black of the perceptual
    reference medium (ICC.1:2022, 6.3.3).
    """
    roots = _root_codes(model)
    table = _relative_lab(roots)
    black = np.array([lab_from_xyz(np.array(PERCEPTUAL_BLACK_XYZ))[0], 0.0, 0.0])
    rendered = _to_lab_element(roots, table[0, 0, 0], black)
    return {
        "A2B0": rendered,
        "A2B1": _to_lab_element(roots, table[0, 0, 0], table[0, 0, 0]),
        "A2B2": rendered,
    } | _to_device_tables(table, black, _staged_nodes, _without_toe(cut_curve()))


def _root_codes(model: InkModel) -> Codes:
    """Square roots of X, Y and Z relative to the paper, at the nodes of the grid."""
    steps = _without_toe(np.linspace(0.0, 1.0, TO_LAB_POINTS))
    device = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1)
    xyz = device_xyz(model, device)
    return _codes(np.sqrt(xyz / xyz[-1, -1, -1]))


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


def _to_lab_element(roots: Codes, paper_black: Floats, black: Floats) -> bytes:
    """The table from device to colour, with the paper's black moved to another."""
    share, wanted = xyz_from_lab(paper_black) / D50_XYZ, xyz_from_lab(black) / D50_XYZ
    scale = (1 - wanted) / (1 - share)
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


def _staged_nodes(black_l: float) -> tuple[Floats, Element]:
    """Colours at the nodes of a grid behind curves, a matrix and curves again."""
    axis = opponent_nodes(_FURTHEST)
    lab = np.stack(
        np.meshgrid(lightness_nodes(black_l), axis, axis, indexing="ij"), axis=-1
    ).reshape(-1, 3)
    lab[:, 1:] = lab[:, 1:] @ _TURN
    even = np.linspace(0.0, 1.0, TO_DEVICE_POINTS)
    codes = np.linspace(0.0, 1.0, _STAGE_CURVE_POINTS)
    lightness = _curve_element(np.interp(codes, lightness_nodes(black_l) / 100, even))
    opponent = _curve_element(np.interp(codes, axis / (2 * _FURTHEST) + 0.5, even))
    matrix = np.zeros((3, 4))
    matrix[0, 0] = 1.0
    # Rounded as the profile keeps it, so that neutral stays in the middle.
    matrix[1:, 1:3] = np.round(_TURN * 255 / (2 * _FURTHEST) * 65536) / 65536
    matrix[1:, 3] = 0.5 - _NEUTRAL * matrix[1:, 1:3].sum(axis=1)
    straight = identity_curve_element()
    return lab, lambda grid, after: stages_element(
        "mBA",
        b=[lightness, straight, straight],
        matrix=matrix,
        m=[straight, opponent, opponent],
        grid=grid,
        a=[sampled_curve_element(after)] * grid.shape[-1],
    )


def _curve_element(values: Floats) -> bytes:
    return sampled_curve_element(_codes(values))
