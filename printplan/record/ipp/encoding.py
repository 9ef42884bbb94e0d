"""How is a message of the Internet Printing Protocol put into bytes?"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.ipp.keywords import (
    LOCALISED,
    LONGEST_OCTETS,
    NUMBERS,
    OUT_OF_BAND,
    GroupTag,
    ValueTag,
)
from printplan.record.ipp.message import (
    Localised,
    Range,
    Resolution,
    Value,
    members_of,
)

if TYPE_CHECKING:
    from printplan.record.ipp.message import Attribute, Message

_LONGEST_FIELD = 0x7FFF
"""Lengths are signed 16-bit numbers (RFC 8010, 3.1.4)."""


def encode_message(message: Message) -> bytes:
    """
    Put a message into bytes.

    Parameters
    ----------
    message : Message

    Returns
    -------
    bytes

    Raises
    ------
    RecordError
        If a number or a word is too long for the protocol.

    References
    ----------
    .. [1] RFC 8010, Internet Printing Protocol/1.1: Encoding and Transport, clause 3.
    """
    parts = [struct.pack(">BBHi", *message.version, message.code, message.request_id)]
    for group in message.groups:
        parts.append(bytes([group.tag]))
        parts.extend(_attribute(attribute) for attribute in group.attributes)
    return b"".join([*parts, bytes([GroupTag.END_OF_ATTRIBUTES])])


def _attribute(attribute: Attribute) -> bytes:
    """Attribute, and its further values under an empty name (3.1.4, 3.1.5)."""
    if not attribute.values:
        raise RecordError(
            f"The attribute {attribute.name} has no value.",
            remedy="Give it a value, or leave it out.",
        )
    names = [attribute.name, *[""] * (len(attribute.values) - 1)]
    return b"".join(
        _field(value, name) for name, value in zip(names, attribute.values, strict=True)
    )


def _field(value: Value, name: str) -> bytes:
    if value.tag == ValueTag.BEGIN_COLLECTION:
        members = b"".join(_member(member) for member in members_of(value.content))
        end = _plain(ValueTag.END_COLLECTION, "", b"")
        return _plain(value.tag, name, b"") + members + end
    return _plain(value.tag, name, _octets(value, name))


def _member(member: Attribute) -> bytes:
    """Name as a value, then the values under no name (3.1.7)."""
    name = _octets(Value(ValueTag.MEMBER_ATTR_NAME, member.name), member.name)
    values = (_field(value, "") for value in member.values)
    return _plain(ValueTag.MEMBER_ATTR_NAME, "", name) + b"".join(values)


def _plain(tag: int, name: str, octets: bytes) -> bytes:
    named = name.encode()
    if max(len(named), len(octets)) > _LONGEST_FIELD:
        raise RecordError(
            f"The attribute {name[:40]} takes {max(len(named), len(octets))} bytes; a "
            f"printer takes {_LONGEST_FIELD}.",
            remedy="Shorten it.",
        )
    return bytes([tag]) + _counted(named) + _counted(octets)


def _octets(value: Value, name: str) -> bytes:
    """Value in the bytes of its syntax (3.9)."""
    tag = value.tag
    match value.content:
        case None if tag in OUT_OF_BAND:
            octets = b""
        case bool(content) if tag == ValueTag.BOOLEAN:
            octets = bytes([content])
        case int(content) if tag in NUMBERS:
            octets = _packed(name, ">i", content)
        case Resolution() as content if tag == ValueTag.RESOLUTION:
            octets = _packed(name, ">iib", *content)
        case Range() as content if tag == ValueTag.RANGE_OF_INTEGER:
            octets = _packed(name, ">ii", *content)
        case Localised(language, text) if tag in LOCALISED:
            octets = _counted(language.encode()) + _counted(text.encode())
        case str(content) if tag in LONGEST_OCTETS:
            octets = _text(ValueTag(tag), content, name)
        case bytes(content):
            octets = content
        case _:
            raise _strange(value, name)
    return octets


def _packed(name: str, form: str, *numbers: int) -> bytes:
    try:
        return struct.pack(form, *numbers)
    except struct.error as error:
        shown = ", ".join(map(str, numbers))
        raise RecordError(
            f"{name or 'A value'} is {shown}; the protocol takes whole numbers of 32 "
            "bits.",
            remedy="Choose a smaller number.",
        ) from error


def _counted(octets: bytes) -> bytes:
    return struct.pack(">H", len(octets)) + octets


def _text(tag: ValueTag, text: str, name: str) -> bytes:
    octets = text.encode("utf-8", errors="replace")
    if len(octets) > LONGEST_OCTETS[tag]:
        raise RecordError(
            f'{name or "A value"} "{text[:40]}…" takes {len(octets)} bytes; a printer '
            f"takes {LONGEST_OCTETS[tag]} ({tag.word}).",
            remedy=f"Shorten it to {LONGEST_OCTETS[tag]} bytes.",
        )
    return octets


def _strange(value: Value, name: str) -> RecordError:
    return RecordError(
        f"{name or 'A value'} is {value.content!r}; that is not of the syntax "
        f"0x{value.tag:02x}.",
        remedy="Give a value of the syntax that the standard names.",
    )
