"""How is each kind of tag in an ICC profile written?"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING, Literal

import numpy as np

from printplan.colour.icc_file import fixed_numbers, signature_bytes
from printplan.errors import ProfileError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


def xyz_element(xyz: Sequence[float]) -> bytes:
    """One XYZ colour as XYZType (ICC.1:2022, 10.31)."""
    return _element("XYZ", struct.pack(">3i", *fixed_numbers(xyz)))


def fixed_element(values: Sequence[float]) -> bytes:
    """Numbers as s15Fixed16ArrayType (ICC.1:2022, 10.22)."""
    return _element("sf32", struct.pack(f">{len(values)}i", *fixed_numbers(values)))


def identity_curve_element() -> bytes:
    """A straight tone curve as curveType without entries (ICC.1:2022, 10.6)."""
    return _element("curv", struct.pack(">I", 0))


def sampled_curve_element(codes: NDArray[np.uint16]) -> bytes:
    """A tone curve as curveType: equal steps of input, 16-bit output (10.6)."""
    return _element("curv", struct.pack(">I", len(codes)) + _words(codes))


def gamma_curve_element(gamma: float) -> bytes:
    """A power law as parametricCurveType, function 0 (ICC.1:2022, 10.18)."""
    return _element("para", struct.pack(">HHi", 0, 0, *fixed_numbers([gamma])))


def toe_curve_element(g: float, a: float, b: float, c: float, d: float) -> bytes:
    """
    A power law with a straight toe, as parametricCurveType, function 3.

    Parameters
    ----------
    g, a, b, c, d : float
        ``Y = (a·X + b)^g`` where X ≥ d, else ``Y = c·X`` (ICC.1:2022, 10.18).

    Returns
    -------
    bytes
    """
    return _element("para", struct.pack(">HH5i", 3, 0, *fixed_numbers([g, a, b, c, d])))


def description_element(text: str) -> bytes:
    """A name in ASCII as textDescriptionType of version 2 (ICC.1:2001-04, 6.5.17)."""
    letters = _ascii(text)
    # Then no Unicode (language, count), no script code (code, count, 67 bytes).
    rest = bytes(4 + 4 + 2 + 1 + 67)
    return _element("desc", struct.pack(">I", len(letters)) + letters + rest)


def localized_element(text: str) -> bytes:
    """English text as multiLocalizedUnicodeType (ICC.1:2022, 10.15)."""
    letters = text.encode("utf-16-be")
    record = struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(letters), 28)
    return _element("mluc", record + letters)


def text_element(text: str) -> bytes:
    """Plain ASCII as textType (ICC.1:2022, 10.24)."""
    return _element("text", _ascii(text))


def signature_element(signature: str) -> bytes:
    """Four letters as signatureType (ICC.1:2022, 10.23)."""
    return _element("sig", signature_bytes(signature))


def lut16_element(
    before: NDArray[np.uint16],
    grid: NDArray[np.uint16],
    after: NDArray[np.uint16],
) -> bytes:
    """
    Curves, a table and curves again, as lut16Type.

    Parameters
    ----------
    before : ndarray of uint16, shape (inputs, 2 to 4096)
        Curve of each input channel.
    grid : ndarray of uint16, shape (points, …, points, outputs)
        One axis for each input, the first varying slowest.
    after : ndarray of uint16, shape (outputs, 2 to 4096)
        Curve of each output channel.

    Returns
    -------
    bytes

    References
    ----------
    .. [1] ICC.1:2022, 10.10. The matrix, for XYZ input alone, is the identity.
    """
    inputs, outputs, points = len(before), len(after), grid.shape[0]
    if grid.shape != (*[points] * inputs, outputs):
        raise ProfileError(
            f"A table of shape {grid.shape} does not take {inputs} channels to "
            f"{outputs}.",
            remedy=f"Give it the shape {(*[points] * inputs, outputs)}.",
        )
    head = struct.pack(
        ">BBBx9iHH",
        inputs,
        outputs,
        points,
        *fixed_numbers([1, 0, 0, 0, 1, 0, 0, 0, 1]),
        before.shape[1],
        after.shape[1],
    )
    return _element("mft2", head + _words(before) + _words(grid) + _words(after))


def stages_element(  # noqa: PLR0913 - the standard has that many stages
    kind: Literal["mAB", "mBA"],
    *,
    b: Sequence[bytes],
    matrix: NDArray[np.float64] | None = None,
    m: Sequence[bytes] = (),
    grid: NDArray[np.uint16] | None = None,
    a: Sequence[bytes] = (),
) -> bytes:
    """
    Up to five stages between device and colour, as lutAToBType or lutBToAType.

    Parameters
    ----------
    kind : {"mAB", "mBA"}
        From device to colour: A curves, grid, M curves, matrix, B curves. From
        colour to device: the same in the other order.
    b : sequence of bytes
        Curve elements next to the colour, one for each of its channels.
    matrix : ndarray of float64, shape (3, 4), optional
        Its last column is added. It comes together with `m`.
    m : sequence of bytes, optional
        Curve elements.
    grid : ndarray of uint16, shape (points, …, points, outputs), optional
        One axis for each input, the first varying slowest; axes may differ in
        points. It comes together with `a`.
    a : sequence of bytes, optional
        Curve elements next to the device, one for each of its channels.

    Returns
    -------
    bytes

    Raises
    ------
    ProfileError
        If the stages are a set that the standard does not know, or do not fit
        together.

    References
    ----------
    .. [1] ICC.1:2022, 10.12 lutAToBType and 10.13 lutBToAType.
    """
    device = len(a) or len(b)
    inputs, outputs = (device, len(b)) if kind == "mAB" else (len(b), device)
    _require_stages(b=b, matrix=matrix, m=m, grid=grid, a=a, channels=(inputs, outputs))
    parts = [_padded_curves(b), b"", _padded_curves(m), b"", _padded_curves(a)]
    if matrix is not None:
        order = [*matrix[:, :3].ravel().tolist(), *matrix[:, 3].tolist()]
        parts[1] = struct.pack(">12i", *fixed_numbers(order))
    if grid is not None:
        points = bytes(grid.shape[:-1]).ljust(16, b"\0")
        parts[3] = _padded(points + bytes([2, 0, 0, 0]) + _words(grid))
    offsets, end = [], 32
    for part in parts:
        offsets.append(end if part else 0)
        end += len(part)
    head = struct.pack(">BBxx5I", inputs, outputs, *offsets)
    return _element(kind, head + b"".join(parts))


def _require_stages(  # noqa: PLR0913 - as many stages as there are
    *,
    b: Sequence[bytes],
    matrix: NDArray[np.float64] | None,
    m: Sequence[bytes],
    grid: NDArray[np.uint16] | None,
    a: Sequence[bytes],
    channels: tuple[int, int],
) -> None:
    """Refuse what 10.12 does not list: B; M, matrix, B; A, grid, B; all five."""
    together = (matrix is None) == (not m) and (grid is None) == (not a)
    if not (together and b and len(m) in (0, len(b))):
        raise ProfileError(
            f"A table of {len(a)} A, {len(m)} M and {len(b)} B curves "
            f"{'without' if matrix is None else 'with'} a matrix and "
            f"{'without' if grid is None else 'with'} a grid is in no ICC profile.",
            remedy="Give B curves; M curves with a matrix; A curves with a grid.",
        )
    inputs, outputs = channels
    axes = () if grid is None else grid.shape
    if axes and (len(axes) != inputs + 1 or axes[-1] != outputs):
        raise ProfileError(
            f"A table of shape {axes} does not take {inputs} channels to {outputs}.",
            remedy=f"Give it {inputs} axes of points and one of {outputs} outputs.",
        )


def _padded_curves(curves: Sequence[bytes]) -> bytes:
    return b"".join(_padded(curve) for curve in curves)


def _padded(part: bytes) -> bytes:
    """Stages and curves begin on multiples of four bytes (10.12.1)."""
    return part + bytes(-len(part) % 4)


def _element(kind: str, content: bytes) -> bytes:
    """Type signature, four reserved bytes, content (ICC.1:2022, 10.1)."""
    return signature_bytes(kind) + bytes(4) + content


def _ascii(text: str) -> bytes:
    """ASCII with its closing null."""
    try:
        return text.encode("ascii") + b"\0"
    except UnicodeEncodeError as error:
        raise ProfileError(
            f"{text!r} cannot be written in ASCII.",
            remedy="Use unaccented letters in the names kept in profiles.",
        ) from error


def _words(codes: NDArray[np.uint16]) -> bytes:
    return np.ascontiguousarray(codes, dtype=">u2").tobytes()
