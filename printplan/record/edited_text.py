"""How does a changed value get back into a text that a person has edited?"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import tomlkit
from tomlkit.exceptions import TOMLKitError

from printplan.errors import RecordError
from printplan.record.toml_writing import write_into

if TYPE_CHECKING:
    from collections.abc import Mapping


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

    Returns
    -------
    RecordError
    """
    return RecordError(
        f"{where} is laid out in a way that cannot be changed in place.",
        remedy="Give each table a heading of its own, such as [size], one below the "
        "other.",
    )
