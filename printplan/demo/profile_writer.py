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
from printplan.demo.inked_papers import AskedBlack
from printplan.demo.inks import InkModel, device_xyz, make_ink_model
from printplan.demo.renderings import (
    PERCEPTUAL,
    SATURATION,
    Rendering,
    colorimetric_device,
    rendered_device,
)
from printplan.demo.stages_profile import write_stages_profile
from printplan.demo.table_nodes import (
    FULL,
    FULL_REACH_DE,
    TO_DEVICE_POINTS,
    TO_LAB_POINTS,
    cut_curve,
    device_grid,
    lightness_nodes,
    opponent_nodes,
    reach_cut,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from printplan.demo.inked_papers import InkedPaper

    Floats = NDArray[np.float64]
    Codes = NDArray[np.uint16]

# Input curves have a point at L* = 100, whose code is 0xFF00: 3840 of 3855 steps.
_CURVE_POINTS = 3856


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
