"""How does a frozen value become TOML that people can edit, and come back exactly?"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import tomllib
from dataclasses import MISSING, dataclass, fields, is_dataclass
from difflib import SequenceMatcher
from enum import StrEnum
from functools import lru_cache
from math import isfinite
from pathlib import Path
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Any, TypeVar, get_args, get_origin, get_type_hints

import tomlkit
from tomlkit.items import AoT, Item, Table

from printplan.errors import PrintPlanError, RecordError
from printplan.units import mm_from_inches

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    from tomlkit import TOMLDocument

T = TypeVar("T")

LARGEST_BYTES = 16_000_000
"""A longer file is not one of ours: some hundred thousand prints. Our choice."""

_NEAR = 0.6
"""Likeness from which a name is offered as the one meant (difflib's own default)."""

_WHOLE_BITS = 63
"""TOML 1.0.0, Integer: 64-bit signed numbers are promised, and no others."""

_WANTED = {
    float: "a number, such as 12.5",
    int: "a whole number, such as 12",
    str: "text in quotes",
    bool: "true or false",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FileKind:
    """
    One kind of file of ours, as its first two lines say.

    Attributes
    ----------
    name : str
        The text after ``format =``.
    version : int
        Newest ``format_version`` that is understood.
    heading : str
        Comment at the top of a new file.
    """

    name: str
    version: int
    heading: str


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


def did_you_mean(name: str, valid: Collection[str], *, mark: str = '"') -> str:
    """
    Remedy for a name that is not known.

    Parameters
    ----------
    name : str
        As it was written.
    valid : collection of str
        The names that are known.
    mark : str, optional
        Put round each name.

    Returns
    -------
    str
        A question with the nearest name, or with several that are as near; all
        names if none is near.
    """
    likeness = {
        known: SequenceMatcher(None, name.casefold(), known.casefold()).ratio()
        for known in valid
    }
    best = max(likeness.values(), default=0.0)
    if best >= _NEAR:
        tied = [known for known in valid if likeness[known] == best]
        # Lengths have two names each; what is as near to both means millimetres.
        near = [f"{mark}{known}{mark}" for known in tied if _twin(known) not in tied]
        return f"Did you mean {' or '.join(near)}?"
    names = [f"{mark}{it}{mark}" for it in valid if _twin(it) not in valid]
    return f"Known here: {', '.join(names) or 'none'}."


def _twin(key: str) -> str:
    """Name of the length that a key in inches stands for; empty for other keys."""
    return f"{key[:-3]}_mm" if key.endswith("_in") else ""


def parse_text(text: str, kind: FileKind, *, where: str) -> dict[str, object]:
    """
    Read the tables of a file.

    Parameters
    ----------
    text : str
    kind : FileKind
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
    if name != kind.name:
        raise RecordError(
            f"{where}: the format is {_described(name)}.",
            remedy=f'Choose a file that begins with format = "{kind.name}".',
        )
    if type(version) is not int or version < 1:
        raise RecordError(
            f"{where}: the format_version is {_described(version)}.",
            remedy=f"Write format_version = {kind.version} below the format.",
        )
    if version > kind.version:
        raise RecordError(
            f"{where}: the format_version is {version}; this printplan reads up to "
            f"{kind.version}.",
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
        A dataclass of text, numbers, `StrEnum`, optional values, tuples and further
        dataclasses.
    table : mapping
        As TOML gives it. A length ``name_mm`` may be given as ``name_in`` instead,
        in inches.
    where : str
        Name of the file, for errors.

    Returns
    -------
    T

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


def _value(kind: Any, table: Mapping[str, object], place: _Place) -> Any:
    hints = _hints(kind)
    needed = {
        field.name
        for field in fields(kind)
        if field.default is MISSING and field.default_factory is MISSING
    }
    lengths = {f"{name[:-3]}_in": name for name in hints if name.endswith("_mm")}
    for key, given in table.items():
        if key not in hints and key not in lengths:
            shown = place.table(key).shown if isinstance(given, dict) else ""
            raise RecordError(
                f"{shown or f'{place.shown} {key}'}: there is no such key.",
                remedy=did_you_mean(key, [*hints, *lengths], mark=""),
            )
        if lengths.get(key) in table:
            raise RecordError(
                f"{place.shown} {key} and {lengths[key]} are both given.",
                remedy="Keep one of the two.",
            )
    keys = {lengths.get(key, key): key for key in table}
    if absent := [name for name in hints if name in needed and name not in keys]:
        wanted = " and ".join(f"{name} ({_wanted(hints[name])})" for name in absent)
        raise RecordError(
            f"{place.shown} {' and '.join(absent)} {_is_or_are(absent)} missing.",
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


def _is_or_are(names: list[str]) -> str:
    return "is" if len(names) == 1 else "are"


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


def text_from_value(value: object, kind: FileKind, comments: Mapping[str, str]) -> str:
    """
    Write a frozen value as a file.

    Parameters
    ----------
    value : dataclass
        See `value_from_table`.
    kind : FileKind
    comments : mapping of str to str
        What to say behind a key, by its place: ``size.ppi``.

    Returns
    -------
    str
        TOML that reads back as the same value.

    Raises
    ------
    RecordError
        If a text holds half of a character pair, which no file can hold.
    """
    document = tomlkit.document()
    for line in kind.heading.splitlines():
        document.add(tomlkit.comment(line))
    document.add("format", tomlkit.item(kind.name))
    document.add("format_version", tomlkit.item(kind.version))
    document.add(tomlkit.nl())
    write_into(document, value, comments)
    return tomlkit.dumps(document)


def write_into(
    table: TOMLDocument | Table,
    value: object,
    comments: Mapping[str, str],
    *,
    old: object = None,
    path: str = "",
) -> None:
    """
    Write a frozen value into a table, touching only what differs.

    Parameters
    ----------
    table : TOMLDocument or Table
        Changed in place.
    value : dataclass
    comments : mapping of str to str
        See `text_from_value`; used for new keys.
    old : dataclass, optional
        What the table holds now; None if it is empty.
    path : str, optional
        Place of the table, for the comments.

    Raises
    ------
    RecordError
        See `text_from_value`.
    """
    _write(table, value, old, _Notes(comments, path))


@dataclass(frozen=True, slots=True)
class _Notes:
    """What to say behind the keys of one table."""

    comments: Mapping[str, str]
    path: str = ""

    def of(self, key: str) -> _Notes:
        return _Notes(self.comments, f"{self.path}.{key}".lstrip("."))

    def put_behind(self, item: Item) -> None:
        if self.path in self.comments:
            item.comment(self.comments[self.path])


def _write(table: TOMLDocument | Table, value: Any, old: Any, notes: _Notes) -> None:
    tables = []
    for field in fields(value):
        new = getattr(value, field.name)
        before = None if old is None else getattr(old, field.name)
        if old is not None and new == before:
            continue
        if is_dataclass(new) or (
            isinstance(new, tuple) and any(map(is_dataclass, new))
        ):
            tables.append((field.name, new, before))
        else:
            _put(table, field.name, new, notes.of(field.name))
    for name, new, before in tables:  # TOML wants them below the plain keys
        if isinstance(new, tuple):
            _put_list(table, name, new, before, notes.of(name))
        elif isinstance(table.get(name), Table):
            _write(table[name], new, before, notes.of(name))
        else:
            table.add(name, _new_table(new, notes.of(name)))


def _put(table: TOMLDocument | Table, name: str, new: object, notes: _Notes) -> None:
    """Write one plain value; a comment behind an old one stays."""
    in_inches = f"{name[:-3]}_in" if name.endswith("_mm") else ""
    if in_inches in table:
        table.remove(in_inches)
    if name in table and (new is None or isinstance(table[name], AoT)):
        table.remove(name)
    if name in table:
        table[name] = _plain_item(new, notes.path)
    elif new is not None:
        item = _plain_item(new, notes.path)
        notes.put_behind(item)
        table.add(name, item)


def _plain_item(value: Any, place: str) -> Item:
    if isinstance(value, tuple):
        array = tomlkit.array()
        for one in value:
            array.append(_plain_item(one, place))
        return array
    if isinstance(value, str):
        try:
            value.encode()
        except UnicodeEncodeError as error:
            raise RecordError(
                f"{place} is {value!r}, which holds half of a character pair.",
                remedy="Give it, or the file that it names, another name.",
            ) from error
        return tomlkit.string(str(value))
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        value = value if str(value) == "-0.0" else int(value)
    item: Item = tomlkit.item(value)
    return item


def _new_table(value: object, notes: _Notes) -> Table:
    table = tomlkit.table()
    notes.put_behind(table)
    _write(table, value, None, notes)
    return table


def _put_list(
    table: TOMLDocument | Table,
    name: str,
    new: tuple[Any, ...],
    old: tuple[Any, ...] | None,
    notes: _Notes,
) -> None:
    """Write a list of tables; one that was there is known again by its first key."""
    present = table.get(name)
    kept = {}
    if isinstance(present, AoT) and old:
        kept = {_first(it): (it, its) for it, its in zip(old, present, strict=True)}
    tables = tomlkit.aot()
    for value in new:
        if _first(value) in kept:
            before, its_table = kept[_first(value)]
            _write(its_table, value, before, notes)
        else:
            # Comments stand in the first table of a list, not in all.
            its_table = _new_table(value, _Notes({}) if len(tables) else notes)
        tables.append(its_table)
    if list(kept) == [_first(value) for value in new]:
        return
    if present is not None:
        table.remove(name)
    table.add(name, tables)


def _first(value: Any) -> object:
    return getattr(value, fields(value)[0].name)


def read_text(path: str | Path) -> str:
    """
    Read a file of ours.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    str
        With the line ends that the file has.

    Raises
    ------
    RecordError
        If there is none, or it is not text.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise RecordError(
            f"{path} cannot be read ({reason}).",
            remedy="Check its name and folder, and that you may read it.",
        ) from error
    if len(data) > LARGEST_BYTES:
        raise RecordError(
            f"{path} is longer than {LARGEST_BYTES / 1e6:g} MB.",
            remedy="Choose a plan file or a paper book; this is another file.",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RecordError(
            f"{path} is not UTF-8 text (byte {error.start}).",
            remedy="Choose a text file, or save it again as UTF-8.",
        ) from error


def write_text(
    text: str,
    path: str | Path,
    kind: FileKind,
    *,
    overwrite: bool = False,
    permitted: Callable[[], bool] | None = None,
) -> bool:
    """
    Write a file whole or not at all.

    Parameters
    ----------
    text : str
    path : str or Path
    kind : FileKind
        What the text is.
    overwrite : bool, optional
        Permits a file of that name to be replaced if it is of the same kind: a
        master is never replaced by its plan.
    permitted : callable, optional
        Asked when all is on the disk, just before the file gets its name.

    Returns
    -------
    bool
        False if it was not permitted; then nothing has changed.

    Raises
    ------
    RecordError
        If it exists already, is a file of another kind, or cannot be written.

    Notes
    -----
    A killed process or a power cut can leave a file ``.printplan-….part`` behind.
    """
    target = Path(path).resolve()
    part = target.with_name(f".printplan-{secrets.token_hex(8)}.part")
    try:
        with part.open("xb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        if permitted is not None and not permitted():
            return False
        if overwrite:
            if target.exists():
                _require_kind(target, kind)
                shutil.copymode(target, part)
            part.replace(target)
        else:
            _give_free_name(part, target)
    except FileExistsError as error:
        raise RecordError(
            f"{target} exists already.",
            remedy="Choose another name, or permit overwriting (overwrite=True).",
        ) from error
    except OSError as error:
        raise RecordError(
            f"{target} cannot be written ({error.strerror or error}).",
            remedy="Choose a folder that exists and that you may write to.",
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return True


def _require_kind(target: Path, kind: FileKind) -> None:
    with target.open("rb") as file:
        found = file.read(LARGEST_BYTES)
    if found and f'"{kind.name}"'.encode() not in found:
        raise RecordError(
            f"{target} is not a {kind.name}; it was not replaced.",
            remedy="Choose another name.",
        )


def _give_free_name(part: Path, target: Path) -> None:
    """Rename in one step that cannot replace another file."""
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:
        # This disk has no second names: an empty file holds the place meanwhile.
        target.open("xb").close()
        try:
            part.replace(target)
        except BaseException:
            target.unlink()
            raise
