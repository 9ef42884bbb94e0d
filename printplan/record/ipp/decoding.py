"""What does an answer in the Internet Printing Protocol say?"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.ipp.keywords import (
    LAST_GROUP_TAG,
    LOCALISED,
    LONGEST_OCTETS,
    NUMBERS,
    OUT_OF_BAND,
    GroupTag,
    ValueTag,
)
from printplan.record.ipp.message import (
    Attribute,
    Group,
    Localised,
    Message,
    Range,
    Resolution,
    Value,
)

if TYPE_CHECKING:
    from printplan.record.ipp.message import Collection, Content

DEEPEST_COLLECTION = 8
"""Collections inside one another that are read; the standards use 3. Our choice."""


def decode_message(data: bytes) -> Message:
    """
    Read a message.

    Parameters
    ----------
    data : bytes
        A whole answer or request; what follows its attributes is left alone.

    Returns
    -------
    Message

    Raises
    ------
    RecordError
        If the bytes are no such message.

    Notes
    -----
    The reader only ever moves forward, so it ends on any input. Letters that are
    not UTF-8, which a printer's own labels may hold, become the replacement
    character: a wrong label is no reason not to print.

    References
    ----------
    .. [1] RFC 8010, Internet Printing Protocol/1.1: Encoding and Transport, clause 3.
    """
    try:
        return _message(_Reader(data))
    except (struct.error, IndexError) as error:
        raise _broken("it ends too early") from error


def _broken(why: str) -> RecordError:
    return RecordError(
        f"The printer's answer cannot be understood: {why}.",
        remedy="Check that the address is that of an IPP printer, often "
        "ipp://NAME:631/ipp/print.",
    )


@dataclass(slots=True)
class _Reader:
    """Bytes, and how far they have been read."""

    data: bytes
    at: int = 0

    def numbers(self, form: str) -> tuple[int, ...]:
        values = struct.unpack_from(form, self.data, self.at)
        self.at += struct.calcsize(form)
        return values

    def peek(self) -> int:
        return self.data[self.at]

    def counted(self) -> bytes:
        (length,) = self.numbers(">H")
        octets = self.data[self.at : self.at + length]
        if len(octets) < length:
            raise _broken("it ends too early")
        self.at += length
        return octets

    def field(self) -> tuple[int, str, bytes]:
        (tag,) = self.numbers(">B")
        return tag, _words(self.counted()), self.counted()


def _words(octets: bytes) -> str:
    return octets.decode("utf-8", errors="replace")


def _message(reader: _Reader) -> Message:
    major, minor, code, request_id = reader.numbers(">BBHi")
    groups = []
    while (tag := reader.numbers(">B")[0]) != GroupTag.END_OF_ATTRIBUTES:
        if not 0 < tag <= LAST_GROUP_TAG:
            raise _broken(f"a group begins with 0x{tag:02x}")
        groups.append(Group(tag, _read_attributes(reader)))
    return Message(
        code=code, request_id=request_id, groups=tuple(groups), version=(major, minor)
    )


def _read_attributes(reader: _Reader) -> tuple[Attribute, ...]:
    found: list[tuple[str, list[Value]]] = []
    while reader.peek() > LAST_GROUP_TAG:
        tag, name, octets = reader.field()
        value = _value(reader, tag, octets, depth=1)
        if name:
            found.append((name, [value]))
        elif found:
            found[-1][1].append(value)
        else:
            raise _broken("a value has no name")
    return tuple(Attribute(name, tuple(values)) for name, values in found)


def _value(reader: _Reader, tag: int, octets: bytes, *, depth: int) -> Value:
    if tag in {ValueTag.MEMBER_ATTR_NAME, ValueTag.END_COLLECTION}:
        raise _broken("a collection ends before it began")
    if tag == ValueTag.BEGIN_COLLECTION:
        return Value(tag, _read_collection(reader, depth))
    return Value(tag, _content(tag, octets))


def _read_collection(reader: _Reader, depth: int) -> Collection:
    if depth > DEEPEST_COLLECTION:
        raise _broken(f"more than {DEEPEST_COLLECTION} collections lie in one another")
    found: list[tuple[str, list[Value]]] = []
    while True:
        tag, name, octets = reader.field()
        if tag == ValueTag.END_COLLECTION:
            break
        if name:
            raise _broken("a value in a collection has a name of its own")
        if tag == ValueTag.MEMBER_ATTR_NAME:
            found.append((_words(octets), []))
        elif found:
            found[-1][1].append(_value(reader, tag, octets, depth=depth + 1))
        else:
            raise _broken("a value in a collection has no name")
    return tuple(Attribute(name, tuple(values)) for name, values in found)


def _content(tag: int, octets: bytes) -> Content:
    """What the bytes of a value say (3.9)."""
    content: Content = octets
    if tag in OUT_OF_BAND:
        content = None
    elif tag in LONGEST_OCTETS:
        content = _words(octets)
    elif tag in LOCALISED:
        parts = _Reader(octets)
        content = Localised(_words(parts.counted()), _words(parts.counted()))
    elif tag == ValueTag.BOOLEAN:
        content = _sized(">?", octets)[0] != 0
    elif tag in NUMBERS:
        content = _sized(">i", octets)[0]
    elif tag == ValueTag.RESOLUTION:
        content = Resolution(*_sized(">iib", octets))
    elif tag == ValueTag.RANGE_OF_INTEGER:
        content = Range(*_sized(">ii", octets))
    return content


def _sized(form: str, octets: bytes) -> tuple[int, ...]:
    if len(octets) != struct.calcsize(form):
        raise _broken(
            f"a value has {len(octets)} bytes instead of {struct.calcsize(form)}"
        )
    return struct.unpack(form, octets)
