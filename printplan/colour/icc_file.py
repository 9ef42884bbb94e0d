"""How is an ICC profile laid out in bytes?"""

from __future__ import annotations

import hashlib
import struct
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from printplan.errors import ProfileError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

HEADER_BYTES = 128
"""ICC.1:2022, 7.2.1. The tag table follows at once."""

D50_XYZ = (0.9642, 1.0, 0.8249)
"""Illuminant of the profile connection space: ICC.1:2022, 7.2.16."""

_TAG_ROW_BYTES = 12
_PADDING_BYTES = 3
_CREATED = (2024, 1, 1, 0, 0, 0)  # Fixed, so that the same colours give the same bytes.
_FETCH_AGAIN = "Fetch the profile again, or export the picture with a sound one."


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
    header : IccHeader
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
    header : IccHeader
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


def read_icc(data: bytes, *, where: str) -> IccFile:
    """
    Take a profile apart.

    Parameters
    ----------
    data : bytes
        A whole profile; up to three bytes of padding may follow it.
    where : str
        What carried it, for the error.

    Returns
    -------
    IccFile

    Raises
    ------
    ProfileError
        If it is too short, is no ICC profile, or its sizes do not agree.
    """
    if len(data) < HEADER_BYTES + 4:
        raise _damaged(
            where, f"it has {len(data)} bytes and the smallest has {HEADER_BYTES + 4}"
        )
    if data[36:40] != b"acsp":
        raise _damaged(where, "the mark 'acsp' is missing, so this is no ICC profile")
    declared, count = struct.unpack_from(">I", data)[0], _count(data)
    if not 0 <= len(data) - declared <= _PADDING_BYTES:
        raise _damaged(where, f"it declares {declared} bytes and {len(data)} are there")
    first = HEADER_BYTES + 4 + _TAG_ROW_BYTES * count
    if first > declared:
        raise _damaged(where, f"its table of {count} tags is longer than the profile")
    tags: dict[str, bytes] = {}
    for signature, offset, size in struct.iter_unpack(
        ">4sII", data[HEADER_BYTES + 4 : first]
    ):
        name = signature.decode("latin-1").rstrip()
        if name in tags:
            raise _damaged(where, f"the tag {name!r} appears twice")
        if offset < first or size < 8 or offset + size > declared:
            raise _damaged(
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

    Parameters
    ----------
    element : bytes

    Returns
    -------
    tuple of float

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

    Parameters
    ----------
    element : bytes

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


def _damaged(where: str, what: str) -> ProfileError:
    return ProfileError(
        f"The colour profile in {where} is damaged: {what}.", remedy=_FETCH_AGAIN
    )


def _wrong_type(element: bytes, wanted: str) -> ProfileError:
    return ProfileError(
        f"A tag of type {element[:4]!r} with {len(element)} bytes holds no {wanted} "
        "that can be read.",
        remedy=_FETCH_AGAIN,
    )
