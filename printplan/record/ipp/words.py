"""How are values of the Internet Printing Protocol shown to people and programs?"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, TypeAlias

from printplan.record.ipp.keywords import ResolutionUnit, word_of
from printplan.record.ipp.message import Localised, Range, Resolution, members_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from printplan.record.ipp.message import Attribute, Content

JsonValue: TypeAlias = "int | str | list[JsonValue] | dict[str, JsonValue] | None"


def json_table(attributes: tuple[Attribute, ...]) -> dict[str, JsonValue]:
    """
    Attributes as plain values under their names.

    Parameters
    ----------
    attributes : tuple of Attribute

    Returns
    -------
    dict of str to JSON values
        A collection is a dict, several values are a list, dates and unknown syntaxes
        are hexadecimal digits.
    """
    return {it.name: _json_values(it) for it in attributes}


def content_words(content: Content) -> str:
    """
    A value as people write it.

    Parameters
    ----------
    content : Content
        As in `Value`.

    Returns
    -------
    str
        The size of a sheet in millimetres; other collections as JSON.

    Examples
    --------
    >>> content_words(Resolution(360, 360)), content_words(Range(1, 99))
    ('360 dpi', '1-99')
    """
    match content:
        case Resolution(across, along, unit):
            size = f"{across}" if across == along else f"{across} × {along}"
            return f"{size} {word_of(ResolutionUnit, unit)}"
        case Range(low, high):
            return f"{low}-{high}"
        case str() | int():
            return on_one_line(str(content))
    edges = {it.name: it.contents[0] for it in members_of(content) if it.values}
    if set(edges) == {"x-dimension", "y-dimension"}:
        return f"{_mm(edges['x-dimension'])} × {_mm(edges['y-dimension'])} mm"
    return json.dumps(_json(content), ensure_ascii=False)


def on_one_line(text: str) -> str:
    """
    Words from elsewhere, without what would move a terminal's cursor.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Characters that cannot be printed are replaced by spaces.

    Examples
    --------
    >>> on_one_line(f"low ink{chr(27)}[2J")
    'low ink [2J'
    """
    return "".join(it if it.isprintable() else " " for it in text)


def listed(contents: Iterable[Content]) -> str:
    """
    Values as people list them.

    Parameters
    ----------
    contents : iterable of Content

    Returns
    -------
    str
    """
    return ", ".join(content_words(content) for content in contents)


def _mm(hundredths: Content) -> str:
    """Lengths of media are hundredths of a millimetre (PWG 5100.7)."""
    match hundredths:
        case Range(low, high):
            return f"{low / 100:g}-{high / 100:g}"
        case int():
            return f"{hundredths / 100:g}"
        case _:
            return content_words(hundredths)


def _json_values(attribute: Attribute) -> JsonValue:
    values = [_json(content) for content in attribute.contents]
    return values[0] if len(values) == 1 else values


def _json(content: Content) -> JsonValue:
    match content:
        case Resolution(across, along, unit):
            word = word_of(ResolutionUnit, unit)
            return {"across": across, "along": along, "unit": word}
        case Range(low, high):
            return {"low": low, "high": high}
        case str() | int() | None:
            return content
        case bytes():
            return content.hex()
        case Localised(_, text):
            return text
        case _:
            return json_table(content)
