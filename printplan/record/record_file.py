"""How is the record of a print saved in a file that people can read?"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.foreign_file import named
from printplan.record.atomic_write import FileHeader, change_text, read_text, write_text
from printplan.record.record import PrintRecord, absolute_path, with_actions
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import cannot_edit, edited_text, text_from_value

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from printplan.pixels.sheet import Sheet
    from printplan.record.plan_file import PlanFile


RECORD_HEADER: Final = FileHeader(
    name="printplan record",
    version=1,
    heading="The record of one print: printplan reprint makes the same file from it.\n"
    "Notes and what was done about findings may be written here; all else is as it "
    "was.",
    former_keys=frozenset({"about"}),
)

RECORD_COMMENTS: Final = {
    "made_at": "when the file was made",
    "note": "about this print",
    "plan_note": "the note in the plan",
    "book": "the paper book; paths begin in this file's folder",
    "currency": "of prices that name none, as the paper book had it",
    "spec": "what was asked",
    "facts": "what the master was",
    "paper": "as it stood in the paper book",
    "printer": "as it stood in the paper book",
    "profile": "of the paper on the printer",
    "file_profile": "what the file's numbers mean",
    "findings": "what was known before ink was spent",
    "findings.done": "what was done about it",
    "ink_load": "square metres of solid colour that it asks for",
    "rendered": "the finished file",
    "rendered.pixel_blake3": "of the pixels, row by row, low byte first",
    "versions": "what computed the file",
}
"""What a record says behind its keys."""


def record_text(record: PrintRecord) -> str:
    """
    Write a record as text.

    Parameters
    ----------
    record : PrintRecord
        Its paths are written as they are.

    Returns
    -------
    str
        TOML, which reads back as the same record.

    Raises
    ------
    RecordError
        If a name or path holds half of a character pair, which no file can hold.
    """
    return text_from_value(record, RECORD_HEADER, RECORD_COMMENTS)


def parse_record_text(text: str, *, where: str) -> PrintRecord:
    """
    Read a record from its text.

    Parameters
    ----------
    where : str
        Name of the file, for errors.

    Returns
    -------
    PrintRecord
        With its paths as written.

    Raises
    ------
    RecordError
        If the text is not a record, or a key is unknown, missing or of the wrong
        kind.
    SpecError
        If a value in it leaves its range.
    """
    table = parse_text(text, RECORD_HEADER, where=where)
    return value_from_table(PrintRecord, table, where=where)


def write_record(
    record: PrintRecord, path: str | Path, *, overwrite: bool = False
) -> None:
    """
    Write a record, whole or not at all.

    Parameters
    ----------
    record : PrintRecord
        What lies below the folder of `path`, or with it in the paper book's folder,
        is written from there, so that all of it can move.
    overwrite : bool, optional
        Permits a record of that name to be replaced.

    Raises
    ------
    RecordError
        If it exists already or cannot be written.
    """
    folder = Path(path).absolute().parent
    studio = Path(record.book).parent if record.book else folder
    text = record_text(record.with_paths(_near(folder, studio)))
    write_text(text, path, RECORD_HEADER, overwrite=overwrite)


def require_recordable(sheet: Sheet, out: str | Path, plan_file: PlanFile) -> None:
    """
    Refuse a print whose record could not be written, before the print is made.

    Parameters
    ----------
    out : str or Path
        The file to be made.
    plan_file : PlanFile
        With whole paths.

    Raises
    ------
    RecordError
        If a name that belongs into the record holds bytes that are no text: a record
        is UTF-8.
    """
    target = Path(out).absolute()
    rewritten = _near(target.parent, Path(plan_file.book).parent)
    paths = (target, plan_file.book, plan_file.master.file, sheet.plan.setup.profile)
    for path in map(str, paths):
        try:
            rewritten(path).encode()
        except UnicodeEncodeError as error:
            raise RecordError(
                f"The name {named(path)} holds bytes that are no letters, which no "
                "record can hold; no file was made.",
                remedy="Rename that file or folder, and try again.",
            ) from error


def read_record(path: str | Path) -> PrintRecord:
    """
    Read a record.

    Returns
    -------
    PrintRecord
        With absolute paths. Nothing that it names is opened.

    Raises
    ------
    RecordError
        If it cannot be read or is not a record.
    SpecError
        If a value in it leaves its range.
    """
    folder = Path(path).absolute().parent
    record = parse_record_text(read_text(path), where=str(path))
    return record.with_paths(lambda written: absolute_path(str(folder / written)))


def save_actions(path: str | Path, actions: Mapping[str, str]) -> None:
    """
    Write what was done about findings into a record; all else in it stays as it is.

    Parameters
    ----------
    actions : mapping of str to str
        As for `with_actions`.

    Raises
    ------
    RecordError
        If it is not a record, an action belongs to no finding, or it cannot be
        written.
    SpecError
        If a value in it leaves its range.
    """
    where = str(path)

    def changed(text: str | None) -> str:
        old = parse_record_text(text or "", where=where)
        new = replace(old, findings=with_actions(old.findings, actions))
        if new == old:
            return text or ""
        edited = edited_text(text or "", old, new, RECORD_COMMENTS, where=where)
        if parse_record_text(edited, where=where) != new:
            raise cannot_edit(where)
        return edited

    change_text(path, RECORD_HEADER, changed)


def _near(folder: Path, studio: Path) -> Callable[[str], str]:
    """Paths from a folder for what can move with it; others stay whole."""
    inside = folder.is_relative_to(studio)

    def rewritten(path: str) -> str:
        whole = Path(path)
        if whole.is_relative_to(folder) or (inside and whole.is_relative_to(studio)):
            return Path(os.path.relpath(whole, folder)).as_posix()
        return path

    return rewritten
