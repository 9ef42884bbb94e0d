"""How is an ICC profile laid out in bytes, tag by tag?"""

from __future__ import annotations

import hashlib
import struct
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import numpy as np

from printplan.errors import ProfileError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray


HEADER_BYTES = 128
"""ICC.1:2022, 7.2.1. The tag table follows at once."""

D50_XYZ = (0.9642, 1.0, 0.8249)
"""Illuminant of the profile connection space: ICC.1:2022, 7.2.16."""

_TAG_ROW_BYTES = 12
_PADDING_BYTES = 3
_CREATED = (2024, 1, 1, 0, 0, 0)  # Fixed, so that the same colours give the same bytes.
FETCH_AGAIN = "Fetch the profile again, or export the picture with a sound one."
"""What cures a damaged profile, whoever carried it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IccHeader:
    """
    The header fields that differ from one of our profiles to another.

    Attributes
    ----------
    version : tuple of int
        Major and minor, such as (4, 4).
    device_class, space, pcs : str
        Signatures without padding: ``mntr``, ``RGB``, ``XYZ``.
    intent : int
        Rendering intent number, 0 to 3 (ICC.1:2022, 7.2.15).
    """

    version: tuple[int, int]
    device_class: str
    space: str
    pcs: str
    intent: int = 0


@dataclass(frozen=True, slots=True)
class IccFile:
    """
    A profile taken apart.

    Attributes
    ----------
    tags : mapping of str to bytes
        Tag elements by signature, in the order of the tag table, each with its own
        type signature in front.
    """

    header: IccHeader
    tags: Mapping[str, bytes]


def write_icc(header: IccHeader, tags: Mapping[str, bytes]) -> bytes:
    """
    Put a profile together.

    Parameters
    ----------
    tags : mapping of str to bytes
        Elements by tag signature. Equal elements are stored once and shared
        (ICC.1:2022, 7.3.1).

    Returns
    -------
    bytes
        The same bytes for the same arguments: the creation date is fixed.

    Notes
    -----
    Elements begin on multiples of four bytes (7.2.1). Version 4 carries its
    profile ID, an MD5 with the fields that may change set to zero (7.2.18);
    version 2 has zeros there. Platform, maker, model and creator are left empty,
    as the standard allows.
    """
    body = bytearray()
    rows = bytearray()
    placed: dict[bytes, int] = {}
    start = HEADER_BYTES + 4 + _TAG_ROW_BYTES * len(tags)
    for signature, element in tags.items():
        if element not in placed:
            placed[element] = start + len(body)
            body += element + bytes(-len(element) % 4)
        rows += struct.pack(
            ">4sII", signature_bytes(signature), placed[element], len(element)
        )
    head = struct.pack(
        ">I4sBB2x4s4s4s6H4s4sI4s4sQI3i4s16s28x",
        start + len(body),
        bytes(4),
        header.version[0],
        header.version[1] << 4,
        signature_bytes(header.device_class),
        signature_bytes(header.space),
        signature_bytes(header.pcs),
        *_CREATED,
        b"acsp",
        bytes(4),
        0,
        bytes(4),
        bytes(4),
        0,
        header.intent,
        *fixed_numbers(D50_XYZ),
        bytes(4),
        bytes(16),
    )
    data = bytearray(head + struct.pack(">I", len(tags)) + rows + body)
    if header.version[0] >= 4:
        data[84:100] = profile_id(bytes(data))
    return bytes(data)


def profile_id(data: bytes) -> bytes:
    """
    The MD5 that names a profile of version 4.

    Parameters
    ----------
    data : bytes
        A whole profile.

    Returns
    -------
    bytes
        16 bytes, taken with flags, rendering intent and ID set to zero.

    References
    ----------
    .. [1] ICC.1:2022, 7.2.18 Profile ID field.
    """
    blank = bytearray(data)
    blank[44:48] = bytes(4)
    blank[64:68] = bytes(4)
    blank[84:100] = bytes(16)
    return hashlib.md5(blank, usedforsecurity=False).digest()


def carried_id(data: bytes) -> bytes:
    """The ID that a whole profile carries: 16 bytes, all 0 for none (7.2.18)."""
    return data[84:100]


def read_icc(data: bytes, *, where: str) -> IccFile:
    """
    Take a profile apart.

    Parameters
    ----------
    data : bytes
        A whole profile; up to three bytes of padding may follow it.
    where : str
        What carried it, for the error.

    Raises
    ------
    ProfileError
        If it is too short, is no ICC profile, or its sizes do not agree.
    """
    if len(data) < HEADER_BYTES + 4:
        raise damaged_profile(
            where, f"it has {len(data)} bytes and the smallest has {HEADER_BYTES + 4}"
        )
    if data[36:40] != b"acsp":
        raise damaged_profile(
            where, "the mark 'acsp' is missing, so this is no ICC profile"
        )
    declared, count = struct.unpack_from(">I", data)[0], _count(data)
    if not 0 <= len(data) - declared <= _PADDING_BYTES:
        raise damaged_profile(
            where, f"it declares {declared} bytes and {len(data)} are there"
        )
    first = HEADER_BYTES + 4 + _TAG_ROW_BYTES * count
    if first > declared:
        raise damaged_profile(
            where, f"its table of {count} tags is longer than the profile"
        )
    tags: dict[str, bytes] = {}
    for signature, offset, size in struct.iter_unpack(
        ">4sII", data[HEADER_BYTES + 4 : first]
    ):
        name = signature.decode("latin-1").rstrip()
        if name in tags:
            raise damaged_profile(where, f"the tag {name!r} appears twice")
        if offset < first or size < 8 or offset + size > declared:
            raise damaged_profile(
                where,
                f"the tag {name!r} claims bytes {offset} to {offset + size} of "
                f"{declared}",
            )
        tags[name] = bytes(data[offset : offset + size])
    header = IccHeader(
        version=(data[8], data[9] >> 4),
        device_class=_unpadded(data[12:16]),
        space=_unpadded(data[16:20]),
        pcs=_unpadded(data[20:24]),
        intent=struct.unpack_from(">I", data, 64)[0],
    )
    return IccFile(header=header, tags=MappingProxyType(tags))


def read_numbers(element: bytes) -> tuple[float, ...]:
    """
    Numbers of an XYZType or s15Fixed16ArrayType element.

    Raises
    ------
    ProfileError
        If the element is of another type.
    """
    if element[:4] not in (b"XYZ ", b"sf32"):
        raise _wrong_type(element, "numbers")
    count = (len(element) - 8) // 4
    return tuple(n / 65536 for n in struct.unpack_from(f">{count}i", element, 8))


def read_text(element: bytes) -> str:
    """
    Text of a textDescriptionType, multiLocalizedUnicodeType or textType element.

    Returns
    -------
    str
        In English where several languages are there, else in the first.

    Raises
    ------
    ProfileError
        If the element is of another type, or shorter than it says.
    """
    kind = element[:4]
    if kind == b"text":
        return _until_null(element[8:])
    if kind == b"desc" and len(element) >= 12:
        (length,) = struct.unpack_from(">I", element, 8)
        return _until_null(element[12 : 12 + length])
    if kind == b"mluc" and len(element) >= 16:
        return _localized(element)
    raise _wrong_type(element, "text")


def _localized(element: bytes) -> str:
    count, row_bytes = struct.unpack_from(">II", element, 8)
    if row_bytes != 12 or not 0 < count <= (len(element) - 16) // 12:
        raise _wrong_type(element, "text")
    rows = list(struct.iter_unpack(">2s2sII", element[16 : 16 + 12 * count]))
    english = [row for row in rows if row[0] == b"en"]
    _language, _country, length, offset = (english or rows)[0]
    if offset + length > len(element):
        raise _wrong_type(element, "text")
    letters = element[offset : offset + length]
    return letters.decode("utf-16-be", "replace").rstrip("\0")


def signature_bytes(signature: str) -> bytes:
    """Four ASCII letters, filled up with spaces (ICC.1:2022, 7.2)."""
    letters = signature.encode("ascii", "replace").ljust(4)
    if len(letters) != 4 or b"?" in letters:
        raise ProfileError(
            f"{signature!r} is no ICC signature.",
            remedy="Give up to four ASCII letters, such as 'desc'.",
        )
    return letters


def _unpadded(signature: bytes) -> str:
    return signature.decode("latin-1").strip()


def _until_null(letters: bytes) -> str:
    return letters.split(b"\0", 1)[0].decode("latin-1")


def fixed_numbers(values: Sequence[float]) -> list[int]:
    """Nearest s15Fixed16Number of each value, as an integer (ICC.1:2022, 4.6)."""
    fixed = [round(float(value) * 65536) for value in values]
    for value, number in zip(values, fixed, strict=True):
        if not -(2**31) <= number < 2**31:
            raise ProfileError(
                f"{value:g} cannot be written as an s15Fixed16Number.",
                remedy="Give a value from -32768 up to 32767.99998.",
            )
    return fixed


def _count(data: bytes) -> int:
    return int(struct.unpack_from(">I", data, HEADER_BYTES)[0])


def damaged_profile(where: str, what: str) -> ProfileError:
    """
    The refusal of a profile that cannot be computed with.

    Parameters
    ----------
    where : str
        What carried it.
    what : str
        What is wrong with it, without a full stop.
    """
    return ProfileError(
        f"The colour profile in {where} is damaged: {what}.", remedy=FETCH_AGAIN
    )


def _wrong_type(element: bytes, wanted: str) -> ProfileError:
    return ProfileError(
        f"A tag of type {element[:4]!r} with {len(element)} bytes holds no {wanted} "
        "that can be read.",
        remedy=FETCH_AGAIN,
    )


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
