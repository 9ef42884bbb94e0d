"""How does TOML that people edit become a frozen value?"""

from __future__ import annotations

import re
import tomllib
from dataclasses import MISSING, dataclass, fields, is_dataclass
from datetime import date
from enum import StrEnum
from functools import lru_cache
from math import isfinite
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Any, TypeVar, get_args, get_origin, get_type_hints

from printplan.errors import PrintPlanError, RecordError, did_you_mean
from printplan.spec import FORMERLY
from printplan.units import mm_from_inches

if TYPE_CHECKING:
    from collections.abc import Mapping

    from printplan.record.atomic_write import FileHeader


T = TypeVar("T")

_WHOLE_BITS = 63
"""TOML 1.0.0, Integer: 64-bit signed numbers are promised, and no others."""

_WANTED = {
    float: "a number, such as 12.5",
    int: "a whole number, such as 12",
    str: "text in quotes",
    bool: "true or false",
    date: "a day without quotes, such as 2026-05-03",
}


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in a file something stands, in the words of the file."""

    shown: str
    path: tuple[str, ...] = ()

    def table(self, key: str) -> _Place:
        path = (*self.path, key)
        return _Place(f"{self.shown} [{'.'.join(path)}]", path)

    def item(self, key: str, number: int) -> _Place:
        path = (*self.path, key)
        return _Place(f"{self.shown} [[{'.'.join(path)}]] no. {number}", path)


def parse_text(text: str, header: FileHeader, *, where: str) -> dict[str, object]:
    """
    Read the tables of a file.

    Parameters
    ----------
    header : FileHeader
        What the file must be.
    where : str
        Name of the file, for errors.

    Returns
    -------
    dict
        Without the two lines that say the kind.

    Raises
    ------
    RecordError
        If it is not TOML, of another kind, or written by a newer printplan.
    """
    try:
        table: dict[str, object] = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise _not_toml(text, where, error) from error
    name, version = table.pop("format", None), table.pop("format_version", None)
    if name != header.name:
        raise RecordError(
            f"{where}: the format is {_described(name)}.",
            remedy=f'Choose a file that begins with format = "{header.name}".',
        )
    if type(version) is not int or version < 1:
        raise RecordError(
            f"{where}: the format_version is {_described(version)}.",
            remedy=f"Write format_version = {header.version} below the format.",
        )
    if version > header.version:
        raise RecordError(
            f"{where}: the format_version is {version}; this printplan reads up to "
            f"{header.version}.",
            remedy="Open it with a newer printplan.",
        )
    return table


def _not_toml(text: str, where: str, error: Exception) -> RecordError:
    problem, _, position = str(error).partition(" (at ")
    if not isinstance(error, tomllib.TOMLDecodeError):
        problem = "a number or a list in it is beyond all measure"
    found = re.match(r"line (\d+)", position)
    last = text.count("\n") + 1 if position.startswith("end") else ""
    line = f", line {found[1] if found else last}" if found or last else ""
    return RecordError(
        f"{where}{line}: this is not TOML ({problem}).",
        remedy="Correct that line or the one above; a line reads name = value, and "
        "text stands in quotes.",
    )


def value_from_table(kind: type[T], table: Mapping[str, object], *, where: str) -> T:
    """
    Make a frozen value of what a file says.

    Parameters
    ----------
    kind : type
        A dataclass of text, numbers, days, `StrEnum`, optional values, tuples and
        further dataclasses.
    table : mapping
        As TOML gives it. A length ``name_mm`` may be given as ``name_in`` instead,
        in inches.
    where : str
        Name of the file, for errors.

    Raises
    ------
    RecordError
        If a key is unknown, missing or given in both units, or its value is not
        of the kind wanted.
    SpecError
        If the value itself refuses what it is made of.
    """
    made: T = _value(kind, table, _Place(f"{where}:"))
    return made


def gave_inches(table: Mapping[str, object], part: str) -> bool:
    """
    Whether a person gave a length of one table in inches.

    Parameters
    ----------
    table : mapping
        Of a whole file, as TOML gives it.
    part : str
        Name of the table in it.
    """
    lengths = table.get(part)
    return isinstance(lengths, dict) and any(key.endswith("_in") for key in lengths)


def _value(kind: Any, table: Mapping[str, object], place: _Place) -> Any:
    hints = _hints(kind)
    needed = {
        field.name
        for field in fields(kind)
        if field.default is MISSING and field.default_factory is MISSING
    }
    lengths = {f"{name[:-3]}_in": name for name in hints if name.endswith("_mm")}
    formerly = {
        field.metadata[FORMERLY]: field.name
        for field in fields(kind)
        if FORMERLY in field.metadata
    }
    renamed = formerly | lengths
    for key, given in table.items():
        if key not in hints and key not in renamed:
            shown = place.table(key).shown if isinstance(given, dict) else ""
            raise RecordError(
                f"{shown or f'{place.shown} {key}'}: there is no such key.",
                remedy=did_you_mean(key, [*hints, *lengths], mark=""),
            )
        if renamed.get(key) in table:
            raise RecordError(
                f"{place.shown} {key} and {renamed[key]} are both given.",
                remedy="Keep one of the two.",
            )
    keys = {renamed.get(key, key): key for key in table}
    if absent := [name for name in hints if name in needed and name not in keys]:
        wanted = " and ".join(f"{name} ({_wanted(hints[name])})" for name in absent)
        raise RecordError(
            f"{place.shown} {' and '.join(absent)} "
            f"{'are' if absent[1:] else 'is'} missing.",
            remedy=f"Add {wanted}.",
        )
    values = {
        name: _read(hints[name], table[key], place, key) for name, key in keys.items()
    }
    for key in lengths.keys() & table.keys():
        length_mm = mm_from_inches(values[lengths[key]])
        values[lengths[key]] = _read(float, length_mm, place, key)
    try:
        return kind(**values)
    except PrintPlanError as error:
        raise type(error)(
            f"{place.shown} {error.problem}", remedy=error.remedy
        ) from error


@lru_cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(kind: Any, given: object, place: _Place, key: str) -> Any:
    """Read what stands after one key."""
    kind = _present(kind)
    if get_origin(kind) is tuple and isinstance(given, list):
        return _read_list(get_args(kind)[0], given, place, key)
    if is_dataclass(kind) and isinstance(given, dict):
        return _value(kind, given, place.table(key))
    if isinstance(kind, type) and issubclass(kind, StrEnum) and isinstance(given, str):
        if given in set(kind):
            return kind(given)
        raise RecordError(
            f"{place.shown} {key} is {_described(given)}.",
            remedy=f"{did_you_mean(given, list(kind))} Give {_wanted(kind)}.",
        )
    if kind is float and isinstance(given, int | float) and _is_number(given):
        return float(given)
    if type(given) is kind and (kind not in {int, float} or _is_number(given)):
        return given
    raise RecordError(
        f"{place.shown} {key} is {_described(given)}.",
        remedy=f"Give {_wanted(kind)}.",
    )


def _read_list(kind: Any, given: list[object], place: _Place, key: str) -> Any:
    if not is_dataclass(kind):
        return tuple(
            _read(kind, one, place, f"{key} no. {number}")
            for number, one in enumerate(given, 1)
        )
    values = []
    for number, one in enumerate(given, 1):
        if not isinstance(one, dict):
            raise RecordError(
                f"{place.shown} {key} no. {number} is {_described(one)}.",
                remedy=f"Give {_wanted(kind)}.",
            )
        values.append(_value(kind, one, place.item(key, number)))
    return tuple(values)


def _present(kind: Any) -> Any:
    """The kind of an optional value when it is there."""
    if get_origin(kind) is UnionType:
        (kind,) = (each for each in get_args(kind) if each is not NoneType)
    return kind


def _is_number(given: object) -> bool:
    if isinstance(given, int):
        largest = 2**_WHOLE_BITS - 1
        return not isinstance(given, bool) and -largest - 1 <= given <= largest
    return isinstance(given, float) and isfinite(given)


def _wanted(kind: Any) -> str:
    """What a person is to write for a kind."""
    kind = _present(kind)
    if get_origin(kind) is tuple:
        return "a list in [ ], or tables in [[ ]]"
    if is_dataclass(kind):
        return "a table, with its name in [ ] above it"
    if issubclass(kind, StrEnum):
        return "one of " + ", ".join(f'"{word}"' for word in kind)
    return _WANTED[kind]


def _described(given: object) -> str:
    """What was given, in words."""
    if given is None:
        return "missing"
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, str):
        shown = given if len(given) <= 60 else f"{given[:57]}..."
        return f'the text "{shown}"'
    if isinstance(given, dict | list):
        return "a table" if isinstance(given, dict) else "a list"
    return f"{given}"[:60]
