"""What does a message of the Internet Printing Protocol hold, and how in bytes?"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

from printplan.errors import RecordError
from printplan.record.ipp.keywords import (
    LAST_GROUP_TAG,
    LOCALISED,
    LONGEST_OCTETS,
    NUMBERS,
    OUT_OF_BAND,
    GroupTag,
    ResolutionUnit,
    ValueTag,
)


class Resolution(NamedTuple):
    """
    Resolution of a printer.

    Attributes
    ----------
    across, along : int
        Across the feed and along it.
    unit : int
        See `ResolutionUnit`.
    """

    across: int
    along: int
    unit: int = ResolutionUnit.DPI


class Range(NamedTuple):
    """Whole numbers from one to another, both included."""

    low: int
    high: int


class Localised(NamedTuple):
    """Words and the language that they are in."""

    language: str
    text: str


@dataclass(frozen=True, slots=True)
class Attribute:
    """A named attribute with one value or more."""

    name: str
    values: tuple[Value, ...]

    @property
    def contents(self) -> tuple[Content, ...]:
        """What the values hold, without their syntax."""
        return tuple(value.content for value in self.values)


Collection: TypeAlias = tuple[Attribute, ...]
Content: TypeAlias = (
    int | bool | str | bytes | Resolution | Range | Localised | Collection | None
)


@dataclass(frozen=True, slots=True)
class Value:
    """
    One value.

    Attributes
    ----------
    tag : int
        Its syntax; see `ValueTag`.
    content : int, bool, str, Resolution, Range, Localised, tuple, bytes or None
        None where a value is missing by intent, a tuple of `Attribute` for a
        collection, bytes for dates and for syntaxes that are not known here.
    """

    tag: int
    content: Content


@dataclass(frozen=True, slots=True)
class Group:
    """
    Attributes that belong together.

    Attributes
    ----------
    tag : int
        What they belong to; see `GroupTag`.
    """

    tag: int
    attributes: tuple[Attribute, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """
    A request or an answer, without the document that may follow it.

    Attributes
    ----------
    code : int
        An `Operation` in a request, a `Status` in an answer.
    request_id : int
        The answer repeats that of its request.
    version : tuple of int
        Major and minor. Every printer of RFC 8011 understands 1.1.
    """

    code: int
    request_id: int = 1
    groups: tuple[Group, ...] = field(default=())
    version: tuple[int, int] = (1, 1)

    def attributes(self, tag: GroupTag) -> dict[str, Attribute]:
        """
        All attributes of one kind, by name.

        Returns
        -------
        dict of str to Attribute
            The first of each name, though a printer must send none twice.
        """
        found: dict[str, Attribute] = {}
        for group in self.groups:
            if group.tag == tag:
                for attribute in group.attributes:
                    found.setdefault(attribute.name, attribute)
        return found


def one_value(name: str, tag: int, content: Content) -> Attribute:
    """An attribute with one value."""
    return Attribute(name, (Value(tag, content),))


def members_of(content: Content) -> Collection:
    """
    Members of a collection.

    Parameters
    ----------
    content : Content
        As in `Value`.

    Returns
    -------
    tuple of Attribute
        Empty if it is no collection.
    """
    if isinstance(content, tuple):
        return tuple(it for it in content if isinstance(it, Attribute))
    return ()


_LONGEST_FIELD = 0x7FFF
"""Lengths are signed 16-bit numbers (RFC 8010, 3.1.4)."""


def encode_message(message: Message) -> bytes:
    """
    Put a message into bytes.

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


DEEPEST_COLLECTION = 8
"""Collections inside one another that are read; the standards use 3. Our choice."""

MOST_PARTS = 100_000
"""Groups and values that are read of one message: a list of a thousand sheets with ten
attributes each holds some 50,000. Our choice."""


def decode_message(data: bytes) -> Message:
    """
    Read a message.

    Parameters
    ----------
    data : bytes
        A whole answer or request; what follows its attributes is left alone.

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
    """Bytes, how far they have been read, and how many parts that were."""

    data: bytes
    at: int = 0
    parts: int = 0

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

    def count(self) -> None:
        self.parts += 1
        if self.parts > MOST_PARTS:
            raise _broken(f"it holds more than {MOST_PARTS} groups and values")

    def field(self) -> tuple[int, str, bytes]:
        self.count()
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
        reader.count()
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
