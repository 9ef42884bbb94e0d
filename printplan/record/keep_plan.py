"""How does a changed plan get back into the file that it came from?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.edited_text import cannot_edit, edited_text
from printplan.record.plan_file import (
    PLAN_COMMENTS,
    PLAN_KIND,
    parse_plan_text,
    plan_layout,
)
from printplan.record.toml_reading import parse_text
from printplan.record.whole_file import locked, read_text, write_text

if TYPE_CHECKING:
    from printplan.record.plan_file import PlanFile


def keep_plan(plan_file: PlanFile, path: str | Path, *, as_read: str) -> str:
    """
    Write a plan over the file that it was read from, if nobody else has.

    Parameters
    ----------
    plan_file : PlanFile
        With its paths as written.
    path : str or Path
        The plan file.
    as_read : str
        What the file held when it was read. A person's comments, and the keys that
        do not change, stay as they were typed.

    Returns
    -------
    str
        What the file holds now.

    Raises
    ------
    RecordError
        If the file is no longer as it was read, or cannot be read or written.
    """
    target = Path(path).resolve()
    text = _changed(as_read, plan_file, where=str(path))
    with locked(target) as still_locked:

        def is_as_read() -> bool:
            return still_locked() and read_text(target) == as_read

        if not (
            is_as_read()
            and write_text(
                text, target, PLAN_KIND, overwrite=True, permitted=is_as_read
            )
        ):
            raise RecordError(
                f"{path} was changed by another program since it was opened here.",
                remedy="Keep this plan under another name, or open the file again to "
                "go on from what it says now.",
            )
    return text


def _changed(text: str, plan_file: PlanFile, *, where: str) -> str:
    """The text of a plan file with another plan in it."""
    old = parse_plan_text(text, where=where)
    if old == plan_file:
        return text
    named = parse_text(text, PLAN_KIND, where=where).get("lengths_in")
    typed = None if named is None else old.spec.lengths_in
    # A unit that the keys told is named where they no longer do.
    for told in (typed, plan_file.spec.lengths_in):
        edited = edited_text(
            text,
            plan_layout(old, lengths_in=typed),
            plan_layout(plan_file, lengths_in=told),
            PLAN_COMMENTS,
            where=where,
        )
        if parse_plan_text(edited, where=where) == plan_file:
            return edited
    raise cannot_edit(where)
