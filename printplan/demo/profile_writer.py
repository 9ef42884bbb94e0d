"""How does an ink model become an ICC output profile?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.icc_elements import (
    description_element,
    lut16_element,
    signature_element,
    text_element,
    xyz_element,
)
from printplan.colour.icc_file import D50_XYZ, IccHeader, write_icc
from printplan.colour.spaces import lab_from_xyz
from printplan.demo.inks import InkModel, device_xyz, make_ink_model
from printplan.demo.inversion import (
    difference_axes,
    nearest_device,
    overshoot,
    table_lab,
)
from printplan.demo.renderings import PERCEPTUAL, SATURATION, Rendering, aims

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.demo.inked_papers import InkedPaper

    Floats = NDArray[np.float64]
    Codes = NDArray[np.uint16]

FULL = 65535

_TO_LAB_POINTS = 17
_TO_DEVICE_POINTS = 33

# Input curves have a point at L* = 100, whose code is 0xFF00: 3840 of 3855 steps.
_CURVE_POINTS = 3856
_DENSE_AB = 92.0
_DENSE_STEPS = 14  # Of 16 on each side of a* = b* = 0.

# Device values in the table may run over by an eighth at both ends; output curves
# cut them off, below entry 386 and above entry 3468. Each step is 17 codes of 65535.
_OVERSHOOT = 1 / 8
_OUTPUT_STEPS, _OUTPUT_ZERO, _OUTPUT_SPAN = 3855, 386, 3082
_WHITE_MARGIN = 0.002

_IN_REACH_DE, _FULL_DE = 2.0, 32.0


def write_profile(paper: InkedPaper, printer: str) -> bytes:
    """
    Output profile of an invented paper.

    Parameters
    ----------
    paper : InkedPaper
    printer : str
        The invented printer's name, in ASCII.

    Returns
    -------
    bytes
        The same bytes for the same arguments.

    Notes
    -----
    Version 2.4, class ``prtr``, RGB to CIELAB, three pairs of 16-bit tables
    [1]_. The three tables from device to colour are one: they say what is printed.
    The tables from colour to device differ: media-relative looks for the nearest
    colour, perceptual scales black and bends strong colours first, saturation keeps
    them strong. ICC-absolute colorimetric comes of the paper's white, as it should.

    References
    ----------
    .. [1] ICC.1:2001-04, 6.3.3.1 for the tags, 6.5.7 for the tables.
    """
    model = make_ink_model(paper)
    to_lab = _to_lab_codes(model)
    table = _lab_from_codes(to_lab)
    ends = device_xyz(model, np.array([[1.0] * 3, [0.0] * 3]))
    identity = np.tile(np.array([0, FULL], np.uint16), (3, 1))
    printed = lut16_element(identity, to_lab, identity)
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
        "B2A0": _rendered_element(table, PERCEPTUAL),
        "B2A1": nearest,
        "B2A2": _rendered_element(table, SATURATION),
        "gamt": reach,
    }
    header = IccHeader(version=(2, 4), device_class="prtr", space="RGB", pcs="Lab")
    return write_icc(header, tags)


def _to_lab_codes(model: InkModel) -> Codes:
    steps = np.linspace(0.0, 1.0, _TO_LAB_POINTS)
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
    axes = difference_axes(lab)
    device = nearest_device(table, lab, axes)
    miss = np.einsum("nij,nj->ni", axes, table_lab(table, device)[0] - lab)
    distance = np.sqrt((miss**2).sum(axis=1))
    beyond = overshoot(table, lab, axes, device, most=_OVERSHOOT)
    share = np.clip(distance / _FULL_DE, 0.0, 1.0)
    points = (_TO_DEVICE_POINTS,) * 3
    steps = np.linspace(0.0, _FULL_DE, 257)
    reach = lut16_element(
        curves,
        np.round(share * FULL).astype(np.uint16).reshape(*points, 1),
        np.where(steps > _IN_REACH_DE, np.round(steps / _FULL_DE * FULL), 0).astype(
            np.uint16
        )[None],
    )
    return _device_element(curves, beyond), reach


def _rendered_element(table: Floats, rendering: Rendering) -> bytes:
    curves, lab = _input_curves(black_l=0.0)
    aim = aims(rendering, table, lab)
    axes = difference_axes(aim, lightness_weight=rendering.lightness_weight)
    device = nearest_device(table, aim, axes)
    return _device_element(curves, overshoot(table, aim, axes, device, most=_OVERSHOOT))


def _input_curves(*, black_l: float) -> tuple[Codes, Floats]:
    """Curves that place the nodes of a colour table, and the nodes' colours."""
    last = _TO_DEVICE_POINTS - 1
    # With a black of its own, a paper has few nodes below it, and one right on it.
    below = int(np.ceil(black_l / 8))
    levels = np.concatenate(
        [
            np.linspace(0.0, black_l, below + 1)[:-1],
            np.linspace(black_l, 100.0, last + 1 - below),
        ]
    )
    side = np.append(
        np.linspace(0.0, _DENSE_AB, _DENSE_STEPS + 1),
        np.linspace(_DENSE_AB, 128.0, last // 2 - _DENSE_STEPS + 1)[1:],
    )
    nodes = np.concatenate([-side[:0:-1], side])
    codes = np.linspace(0.0, FULL, _CURVE_POINTS)
    even = np.linspace(0.0, FULL, last + 1)
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
    points = (_TO_DEVICE_POINTS,) * 3
    grid = device.reshape(*points, 3).copy()
    middle = _TO_DEVICE_POINTS // 2
    # No node is exactly a* = b* = 0 in 16 bits, so white is held by a margin.
    grid[-1, middle, middle] = 1 + _WHITE_MARGIN
    entries = (_OUTPUT_ZERO + _OUTPUT_SPAN * grid) / _OUTPUT_STEPS
    cut = np.clip(
        (np.arange(_OUTPUT_STEPS + 1) - _OUTPUT_ZERO) / _OUTPUT_SPAN, 0.0, 1.0
    )
    after = np.tile(np.round(cut * FULL).astype(np.uint16), (3, 1))
    return lut16_element(curves, np.round(entries * FULL).astype(np.uint16), after)
