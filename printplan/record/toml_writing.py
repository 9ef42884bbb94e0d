"""How does a frozen value become TOML that people can edit, comments and all?"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.items import AoT, Item, Table

from printplan.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tomlkit import TOMLDocument

    from printplan.record.whole_file import FileKind


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
