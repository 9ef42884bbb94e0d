"""How does a frozen value become TOML that people can edit, comments and all?"""

from __future__ import annotations

import re
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from operator import eq
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Comment, Item, Key, Null, Table, Whitespace

from printplan.errors import RecordError
from printplan.spec import FORMERLY, UNSAID

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tomlkit import TOMLDocument

    from printplan.record.atomic_write import FileHeader


def edited_text(
    text: str, old: object, new: object, comments: Mapping[str, str], *, where: str
) -> str:
    """
    A file's text with a new value in it; all that does not differ stays as typed.

    Parameters
    ----------
    text : str
        TOML.
    old, new : dataclass
        What the text holds now, and what it is to hold.
    comments : mapping of str to str
        What to say behind keys that are new; see `text_from_value`.
    where : str
        Name of the file, for errors.

    Returns
    -------
    str
        With the line ends that the text had. Read it back before it is written: a
        layout that is read can be one that cannot be edited.

    Raises
    ------
    RecordError
        If the text is laid out in a way that cannot be edited.
    """
    try:
        document = tomlkit.parse(text)
        # Tables of several lists in turn are read, but not kept in their order.
        if document.as_string() != text:
            raise cannot_edit(where)
        write_into(document, new, comments, old=old)
    except TOMLKitError as error:
        raise cannot_edit(where) from error
    edited = document.as_string()
    if text.count("\r\n") == text.count("\n"):
        edited = re.sub("\r?\n", "\r\n", edited)
    return edited


def cannot_edit(where: str) -> RecordError:
    """
    The error of a text whose layout cannot be edited.

    Parameters
    ----------
    where : str
        Name of the file.
    """
    return RecordError(
        f"{where} is laid out in a way that cannot be changed in place.",
        remedy="Give each table a heading of its own, such as [size], one below the "
        "other.",
    )


_Lines = list[tuple[Key | None, Item]]


def text_from_value(
    value: object, header: FileHeader, comments: Mapping[str, str]
) -> str:
    """
    Write a frozen value as a file.

    Parameters
    ----------
    value : dataclass
        See `value_from_table`.
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
    for line in header.heading.splitlines():
        document.add(tomlkit.comment(line))
    document.add("format", tomlkit.item(header.name))
    document.add("format_version", tomlkit.item(header.version))
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
    below = [] if old is None else _take_below(table)
    tables = []
    for field in fields(value):
        new = getattr(value, field.name)
        before = None if old is None else getattr(old, field.name)
        if old is None and UNSAID in field.metadata:
            before = _default(field)
        if new == before and (old is not None or UNSAID in field.metadata):
            continue
        if is_dataclass(new) or (
            isinstance(new, tuple) and any(map(is_dataclass, new))
        ):
            tables.append((field.name, new, before))
        else:
            _put(table, field.name, new, notes.of(field.name))
            if FORMERLY in field.metadata:
                _take_comment(table, field.metadata[FORMERLY], field.name)
    for name, new, before in tables:  # TOML wants them below the plain keys
        if isinstance(new, tuple):
            _put_list(table, name, new, before, notes.of(name))
        elif isinstance(table.get(name), Table):
            _write(table[name], new, before, notes.of(name))
        else:
            table.add(name, _new_table(new, notes.of(name)))
    _put_below(table, below)


def _default(field: Field[Any]) -> Any:
    if field.default_factory is not MISSING:
        return field.default_factory()
    return field.default


def _put(table: TOMLDocument | Table, name: str, new: object, notes: _Notes) -> None:
    """Write one plain value; a comment behind an old one stays."""
    in_inches = f"{name[:-3]}_in" if name.endswith("_mm") else ""
    if in_inches in table:
        table.remove(in_inches)
    if isinstance(present := table.get(name), AoT):
        below = _take_below(present[-1])
        table.remove(name)
        _put_below(table, below)
    elif present is not None and new is None:
        table.remove(name)
    if name in table:
        table[name] = _plain_item(new, notes.path)
    elif new is not None:
        item = _plain_item(new, notes.path)
        notes.put_behind(item)
        table.add(name, item)


def _take_comment(table: TOMLDocument | Table, formerly: str, name: str) -> None:
    """Let a value stand under its name of today alone, with the comment behind it."""
    if formerly in table:
        before = table[formerly].trivia
        table.remove(formerly)
        if name in table:
            table[name].trivia.comment_ws = before.comment_ws
            table[name].trivia.comment = before.comment


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
    """Write a list of tables; those that were there are known again."""
    present: Any = table.get(name)
    known = old if isinstance(present, AoT) and old else ()
    places = _places_among(known, new)
    kept = [place for place in places if place is not None]
    for value, place in zip(new, places, strict=True):
        if place is not None:
            _write(present[place], value, known[place], notes)
    if kept and kept == sorted(kept) and kept == places[: len(kept)]:
        _shorten(present, kept)
        _lengthen(present, [_new_table(it, _Notes({})) for it in new[len(kept) :]])
        return
    tables = tomlkit.aot()
    for value, place in zip(new, places, strict=True):
        # Comments stand in the first table of a list, not in all.
        few = _Notes({}) if len(tables) else notes
        tables.append(_new_table(value, few) if place is None else present[place])
    if present is not None:
        table.remove(name)
    table.add(name, tables)


def _places_among(known: tuple[Any, ...], new: tuple[Any, ...]) -> list[int | None]:
    """Where each value stood before: itself, one of its name, or one much like it."""
    free = dict(enumerate(known))
    places: list[int | None] = [None] * len(new)
    for alike in (eq, _share_first_key, _share_most_keys):
        for number, value in enumerate(new):
            if places[number] is None:
                found = [place for place, old in free.items() if alike(old, value)]
                for place in found[:1]:
                    places[number] = place
                    del free[place]
    return places


def _share_first_key(one: Any, other: Any) -> bool:
    first = fields(one)[0].name
    return bool(getattr(one, first) == getattr(other, first))


def _share_most_keys(one: Any, other: Any) -> bool:
    same: list[bool] = [
        getattr(one, it.name) == getattr(other, it.name) for it in fields(one)
    ]
    return sum(same) > len(same) / 2


def _lengthen(present: AoT, tables: list[Table]) -> None:
    """Add tables at the end of a list, above what a person wrote below it."""
    below = _take_below(present[-1])
    for table in tables:
        table.trivia.indent = "\n"
        present.append(table)
    _put_below(present[-1], below)


def _shorten(present: AoT, kept: list[int]) -> None:
    """Take the other tables out of a list; what was written between them stays."""
    for place in reversed(range(len(present))):
        if place in kept:
            continue
        below = _take_below(present[place])
        if place + 1 == len(present):
            above = _take_below(present[place - 1])
            _put_below(present[place - 1], _if_said(above) + below)
        else:
            said = "".join(item.as_string() for _, item in _if_said(below))
            following = present[place + 1].trivia
            following.indent = said + following.indent
        del present[place]


def _if_said(lines: _Lines) -> _Lines:
    """Lines with a comment among them; none of lines that are all blank."""
    return lines if any(isinstance(item, Comment) for _, item in lines) else []


def _take_below(table: TOMLDocument | Table) -> _Lines:
    """
    Take away what stands after the first blank line below a table's last key.

    TOML counts it as the table's own, but a person wrote it above what follows.
    """
    lines = _last_lines(table)
    end = len(lines)
    while end and isinstance(lines[end - 1][1], Comment | Whitespace | Null):
        end -= 1
    while end < len(lines) and not isinstance(lines[end][1], Whitespace):
        end += 1
    below = lines[end:]
    del lines[end:]
    return below


def _last_lines(table: TOMLDocument | Table) -> _Lines:
    """The lines of a table, or those of the table in it that ends it."""
    lines: _Lines = (table.value if isinstance(table, Table) else table).body
    items = (item for _, item in reversed(lines) if not isinstance(item, Null))
    last = next(items, None)
    if isinstance(last, AoT) and len(last):
        return _last_lines(last[-1])
    return _last_lines(last) if isinstance(last, Table) else lines


def _put_below(table: TOMLDocument | Table, below: _Lines) -> None:
    _last_lines(table).extend(below)
