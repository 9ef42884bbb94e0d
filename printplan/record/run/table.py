"""What does a table of many prints ask for, row by row?"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from printplan.errors import PrintPlanError, RecordError, SpecError, did_you_mean
from printplan.foreign_file import named, read_foreign
from printplan.record.job import JobWish
from printplan.shown_text import shortened
from printplan.spec import DeliverySpec, MasterSpec
from printplan.units import LengthUnit, parse_length_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

MOST_BYTES: Final = 4_000_000
MOST_ROWS: Final = 5_000
"""Of a table: more than any studio prints in one go. Our choice."""

_MARKS: Final = ",;\t"
_LENGTHS: Final = {
    "width": "width_mm",
    "height": "height_mm",
    "longest": "longest_mm",
    "border": "border_mm",
    "distance": "distance_mm",
}
_NAMES: Final = {
    "paper": "paper",
    "printer": "printer",
    "setup": "setup",
    "sheet": "media_size",
    "feed": "feed",
}
COLUMNS: Final = ("master", "plan", *_NAMES, *_LENGTHS, "copies", "note")
"""All but ``master`` may be missing; ``plan`` names a plan file in its place."""

_COMMA: Final = re.compile(r"\s*\d+,\d{1,2}(?!\d)[^,]*")
"""A decimal comma: three digits behind it could be thousands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """
    One row of a table.

    Attributes
    ----------
    number : int
        As a spreadsheet counts: the names of the columns stand in row 1.
    name : str
        What it is about, as it stands in the table.
    wish : JobWish or None
        With the whole path of the master.
    plan_path : Path or None
        The plan that the row names in place of a wish.
    copies : int or None
        None where the table says nothing.
    problem : PrintPlanError or None
        Why the row cannot be read; the others are printed.
    """

    number: int
    name: str
    wish: JobWish | None = None
    plan_path: Path | None = None
    copies: int | None = None
    note: str = ""
    problem: PrintPlanError | None = None


def read_run_table(
    path: str | Path, *, lengths_in: LengthUnit = LengthUnit.MM
) -> tuple[RunRow, ...]:
    """
    Read a table of prints.

    Parameters
    ----------
    path : str or Path
        CSV in UTF-8, its cells parted by commas, semicolons or tabs. Paths in it begin
        in its folder.
    lengths_in : LengthUnit, optional
        Unit of numbers that stand alone.

    Returns
    -------
    tuple of RunRow
        Empty rows are left out.

    Raises
    ------
    RecordError
        If it is no such table. What is wrong in a single row is that row's `problem`.

    Notes
    -----
    A cell is text, whatever it begins with: nothing is computed or looked up.
    """
    path = Path(path).absolute()
    text = _text(path)
    records = _records(text, path)
    columns = _columns(records[0], path)
    rows: list[RunRow] = []
    asked: dict[object, int] = {}
    for number, cells in enumerate(records[1:], start=2):
        if not any(map(str.strip, cells)):
            continue
        row = _row(number, columns, cells, path.parent, lengths_in)
        wanted = row.wish or row.plan_path
        if wanted is not None:
            first = asked.setdefault(wanted, number)
            if first != number:
                row = _refused(
                    row.number,
                    row.name,
                    f" asks for the same print as row {first}.",
                    "Write how many prints are wanted into the column copies, and "
                    "delete one of the two rows.",
                )
        rows.append(row)
    if not rows:
        raise RecordError(
            f"The table {named(path)} has no row below the names of its columns.",
            remedy="Write one row for each print.",
        )
    return tuple(rows)


def _text(path: Path) -> str:
    data = read_foreign(
        path, raises=RecordError, what="The table", most_bytes=MOST_BYTES
    )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RecordError(
            f"The table {named(path)} is not UTF-8 text (byte {error.start}).",
            remedy="Save it from the spreadsheet as CSV in UTF-8.",
        ) from error
    if "\0" in text:
        raise RecordError(
            f"The table {named(path)} holds zero bytes, so it is no text.",
            remedy="Save it from the spreadsheet as CSV in UTF-8.",
        )
    return text


def _records(text: str, path: Path) -> list[list[str]]:
    """Cells by the mark that parts the first row into the most columns known here."""
    head = text.lstrip().partition("\n")[0]

    def known(mark: str) -> int:
        names = (it.strip().strip('"').strip().casefold() for it in head.split(mark))
        return len(set(names) & set(COLUMNS))

    mark = max(_MARKS, key=lambda it: (known(it), head.count(it)))
    records = []
    reader = csv.reader(StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        for cells in reader:
            records.append(cells)
            if len(records) > MOST_ROWS + 1:
                raise RecordError(
                    f"The table {named(path)} has more than {MOST_ROWS} rows.",
                    remedy="Make several tables of it.",
                )
    except csv.Error as error:
        raise RecordError(
            f"The table {named(path)} is no CSV at row {len(records) + 1} ({error}).",
            remedy="Close each quotation mark, and save the table as CSV again.",
        ) from error
    while records and not any(map(str.strip, records[0])):
        records.pop(0)
    if not records:
        raise RecordError(
            f"The table {named(path)} has no rows.",
            remedy="Write the names of its columns into the first row: master, width.",
        )
    return records


def _columns(head: Sequence[str], path: Path) -> list[str]:
    """Names of the columns; those without a name at the end are left out."""
    names = [it.strip().casefold() for it in head]
    while names and not names[-1]:
        names.pop()
    for place, name in enumerate(names):
        if name not in COLUMNS:
            raise RecordError(
                f'Column {place + 1} of the table {named(path)} is called "{name}".',
                remedy=did_you_mean(name, COLUMNS),
            )
        if name in names[:place]:
            raise RecordError(
                f'The table {named(path)} has two columns called "{name}".',
                remedy="Delete one of them.",
            )
    if not {"master", "plan"} & set(names):
        raise RecordError(
            f"The table {named(path)} has no column called master.",
            remedy="Write the names of the columns into the first row; master names "
            "the photograph of each print.",
        )
    return names


def _row(
    number: int,
    columns: Sequence[str],
    cells: Sequence[str],
    folder: Path,
    unit: LengthUnit,
) -> RunRow:
    told = {
        name: cell.strip()
        for name, cell in zip(columns, cells, strict=False)
        if cell.strip()
    }
    name = shortened(told.get("master") or told.get("plan") or "", most=80)
    if any(map(str.strip, cells[len(columns) :])):
        return _refused(
            number,
            name,
            f" has {len(cells)} cells; the table has {len(columns)} columns.",
            "Put text that holds commas or semicolons in quotation marks.",
        )
    try:
        if "plan" in told:
            return _named_plan(number, name, told, folder)
        return _wished(number, name, told, folder, unit)
    except _CellError as error:
        told_of = f", column {error.column}: {error.problem}"
        return _refused(number, name, told_of, error.remedy)


class _CellError(Exception):
    """A cell that says nothing that can be meant."""

    def __init__(self, column: str, problem: str, remedy: str) -> None:
        super().__init__(column, problem, remedy)
        self.column, self.problem, self.remedy = column, problem, remedy


def _named_plan(
    number: int, name: str, told: Mapping[str, str], folder: Path
) -> RunRow:
    others = [it for it in told if it != "plan"]
    if others:
        raise _CellError(
            others[0],
            "A row that names a plan says nothing else.",
            "Write it into that plan, or name the master in place of the plan.",
        )
    return RunRow(number=number, name=name, plan_path=folder / told["plan"])


def _wished(
    number: int, name: str, told: Mapping[str, str], folder: Path, unit: LengthUnit
) -> RunRow:
    if "master" not in told:
        raise _CellError("master", "It is empty.", "Name the photograph.")
    said: dict[str, Any] = {
        field: _length_mm(column, told[column], unit)
        for column, field in _LENGTHS.items()
        if column in told
    }
    said |= {field: told.get(column, "") for column, field in _NAMES.items()}
    asked = [it for it in ("width", "height", "longest") if it in told]
    if len(asked) > 1:
        raise _CellError(
            asked[1],
            f"A {asked[0]} is given as well.",
            "Give one length; the other follows from the photograph.",
        )
    return RunRow(
        number=number,
        name=name,
        wish=JobWish(master=MasterSpec(file=str(folder / told["master"])), **said),
        copies=_copies(told.get("copies", "")),
        note=told.get("note", ""),
    )


def _length_mm(column: str, text: str, unit: LengthUnit) -> float:
    typed = text.replace(",", ".") if _COMMA.fullmatch(text) else text
    try:
        return parse_length_mm(typed, unit)
    except SpecError as error:
        problem = f'"{shortened(text, most=80)}" is not a length.'
        raise _CellError(column, problem, error.remedy) from error


def _copies(text: str) -> int | None:
    if not text:
        return None
    problem = f'"{shortened(text, most=80)}" is no number of prints.'
    if not re.fullmatch(r"[0-9]{1,6}", text):
        raise _CellError("copies", problem, "Write a whole number, such as 2.")
    try:
        return DeliverySpec(copies=int(text)).copies
    except SpecError as error:
        raise _CellError("copies", error.problem, error.remedy) from error


def _refused(number: int, name: str, words: str, remedy: str) -> RunRow:
    """Row that cannot be read; the words go on from its number."""
    return RunRow(
        number=number,
        name=name,
        problem=RecordError(f"Row {number}{words}", remedy=remedy),
    )
