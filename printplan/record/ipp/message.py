"""What does a message of the Internet Printing Protocol hold?"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from printplan.record.ipp.keywords import ResolutionUnit

if TYPE_CHECKING:
    from printplan.record.ipp.keywords import GroupTag


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
    """
    Whole numbers from one to another, both included.

    Attributes
    ----------
    low, high : int
    """

    low: int
    high: int


class Localised(NamedTuple):
    """
    Words and the language that they are in.

    Attributes
    ----------
    language, text : str
    """

    language: str
    text: str


@dataclass(frozen=True, slots=True)
class Attribute:
    """
    A named attribute with one value or more.

    Attributes
    ----------
    name : str
    values : tuple of Value
    """

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
    attributes : tuple of Attribute
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
    groups : tuple of Group
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

        Parameters
        ----------
        tag : GroupTag

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
