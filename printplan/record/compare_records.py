"""In what do two prints differ, as their records tell?"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from itertools import zip_longest
from textwrap import wrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from printplan.record.record import PrintRecord

    _Place = tuple[str, ...]

_UNITS = {
    "_cd_m2": "cd/m²",
    "_gsm": "g/m²",
    "_lx": "lx",
    "_mm": "mm",
    "_um": "µm",
    "_px": "px",
    "_l": "L*",
}
"""What the ends of our own names stand for."""

_PLACES = {
    "rendered": "file",
    "facts": "master",
    "spec": "",
    "sharpen": "sharpening",
    "on_printer": "paper on printer",
    "bytes_written": "length in bytes",
    "made_at": "made at",
    "plan_note": "note in the plan",
    "done": "done about it",
}
_NAMED_BY = ("name", "printer", "about", "on")
_HASH_DIGITS = 64
_SHOWN_DIGITS = 12
_NOTHING = (None, "", ())
_ABSENT = "not given"
_COLUMN = 40
_GAP = "   "


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """
    One value that differs between two prints.

    Attributes
    ----------
    what : str
        In words, such as ``sharpening, radius``.
    first, second : str
        With their units.
    """

    what: str
    first: str
    second: str


def compare_records(first: PrintRecord, second: PrintRecord) -> tuple[Difference, ...]:
    """
    All values that differ between two records.

    Parameters
    ----------
    first, second : PrintRecord

    Returns
    -------
    tuple of Difference
        In the order of a record; empty if the two are the same.
    """
    ours, theirs = dict(_values(first, ())), dict(_values(second, ()))
    places = [*ours, *(place for place in theirs if place not in ours)]
    return tuple(
        _difference(place, ours.get(place), theirs.get(place))
        for place in places
        if _present(ours.get(place)) != _present(theirs.get(place))
    )


def side_by_side(
    differences: Sequence[Difference], *, first: str = "first", second: str = "second"
) -> str:
    """
    Differences as a table of text.

    Parameters
    ----------
    differences : sequence of Difference
    first, second : str, optional
        Names of the two prints.

    Returns
    -------
    str
        Three columns, broken where they are long; one sentence if there are none.
    """
    if not differences:
        return "The two records are the same."
    rows = [
        ("", first, second),
        *((it.what, it.first, it.second) for it in differences),
    ]
    return "\n".join(line for row in rows for line in _row_lines(row))


def _row_lines(row: tuple[str, ...]) -> Iterator[str]:
    columns = [wrap(cell, _COLUMN) for cell in row]
    for cells in zip_longest(*columns, fillvalue=""):
        yield _GAP.join(f"{cell:<{_COLUMN}}" for cell in cells).rstrip()


def _difference(place: _Place, first: object, second: object) -> Difference:
    told = _told(place, first), _told(place, second)
    if told[0] == told[1]:  # they differ in digits that are not shown
        told = str(first), str(second)
    return Difference(what=_words(place), first=told[0], second=told[1])


def _present(value: object) -> object:
    """A value, with all ways of giving none alike."""
    return None if value in _NOTHING else value


def _values(value: object, place: _Place) -> Iterator[tuple[_Place, object]]:
    """Each plain value below a value, by its place."""
    if is_dataclass(value):
        for field in fields(value):
            yield from _values(getattr(value, field.name), (*place, field.name))
    elif isinstance(value, tuple) and any(map(is_dataclass, value)):
        for number, one in enumerate(value, 1):
            yield from _values(one, (*place, _name(one, number)))
    else:
        yield place, value


def _name(value: object, number: int) -> str:
    """What tells one value of a list from the others, wherever it stands."""
    value = getattr(value, "finding", value)
    for key in _NAMED_BY:
        if hasattr(value, key):
            return f'"{getattr(value, key)}"'
    return f"no. {number}"


def _words(place: _Place) -> str:
    parts = []
    for part in place:
        bare = part
        for end in _UNITS:
            bare = bare.removesuffix(end)
        parts.append(_PLACES.get(part, bare.replace("_", " ")))
    return ", ".join(filter(None, parts))


def _told(place: _Place, value: object) -> str:
    if _present(value) is None:
        return _ABSENT
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(_told((), one) for one in value)
    name = place[-1] if place else ""
    if isinstance(value, float | int):
        units = (unit for end, unit in _UNITS.items() if name.endswith(end))
        number = f"{value:.6g}" if isinstance(value, float) else str(value)
        return f"{number} {next(units, '')}".rstrip()
    text = str(value)
    if len(text) == _HASH_DIGITS and name.endswith("sha256"):
        return f"{text[:_SHOWN_DIGITS]}…"
    return text
