"""Where do the plans of a table lie, and which of them belongs to which row?"""

from __future__ import annotations

import hashlib
import json
import os
import re
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.free_name import free_path
from printplan.record.atomic_write import FileHeader, change_text, read_text
from printplan.record.studio_folder import RUN_NAME, make_folder
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import text_from_value
from printplan.units import LengthUnit, short_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from printplan.record.job import JobWish
    from printplan.record.run.table import RunRow

_HEADER: Final = FileHeader(
    name="printplan run",
    version=1,
    heading="Which plan was made for which row of a table, and how long its print "
    "took. Without this file all rows are planned anew.",
)
_COMMENTS: Final = {
    "plans.file": "in this folder",
    "plans.asked_sha256": "of what the row asked",
    "plans.pixels": "of the file, when it was last made",
    "plans.seconds": "that making it took",
}
_LONGEST_NAME: Final = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPlan:
    """
    The plan of a row, and what making its print cost.

    Attributes
    ----------
    file : str
        Its name in the folder.
    asked_sha256 : str
        Of what the row asked, but for copies and note: these can change in a plan.
    pixels : int
        Of the finished file; 0 before it was made.
    seconds : float
        That this took; 0 before.
    """

    file: str
    asked_sha256: str
    pixels: int = 0
    seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """The plans as their file lays them out."""

    plans: tuple[RowPlan, ...] = ()


def run_folder(table: str | Path) -> Path:
    """
    The folder of the prints of a table.

    Examples
    --------
    >>> run_folder("/studio/spring show.csv").name
    'spring show-prints'
    """
    table = Path(table).absolute()
    return table.with_name(f"{table.stem}-prints")


def read_row_plans(folder: Path) -> tuple[RowPlan, ...]:
    """
    The plans that were made for rows before.

    Raises
    ------
    RecordError
        If the file that lists them cannot be read.
    """
    path = folder / RUN_NAME
    return _parse(read_text(path), str(path)) if os.path.lexists(path) else ()


def known_plans(folder: Path, rows: Sequence[RunRow]) -> Mapping[int, Path]:
    """
    The plans that rows have already, by the row's number; nothing is written.

    Raises
    ------
    RecordError
        As for `read_row_plans`.
    """
    listed = {it.asked_sha256: folder / it.file for it in read_row_plans(folder)}
    known = {it.number: it.plan_path for it in rows if it.plan_path is not None}
    for row in rows:
        if row.wish is not None:
            key = _asked_sha256(row.wish, folder)
            known |= {row.number: listed[key]} if key in listed else {}
    return known


def name_plans(folder: Path, rows: Sequence[RunRow]) -> Mapping[int, Path]:
    """
    Give the plan of each row its name, before it is written.

    Parameters
    ----------
    folder : Path
        Made if missing.
    rows : sequence of RunRow
        Those that have a problem are passed over.

    Returns
    -------
    mapping of int to Path
        By the row's number. The same wish has the same plan as before; what a person
        changed in that plan stays.

    Raises
    ------
    RecordError
        If the folder cannot be made, or its list not be read or written.
    """
    make_folder(folder)
    wishes = {it.number: it.wish for it in rows if it.wish is not None}
    keys = {number: _asked_sha256(wish, folder) for number, wish in wishes.items()}
    given: dict[str, str] = {}

    def with_names(text: str | None) -> str:
        kept = () if text is None else _parse(text, str(folder / RUN_NAME))
        given.clear()
        given.update((it.asked_sha256, it.file) for it in kept)
        taken = {it.file for it in kept}
        added = []
        for number, key in keys.items():
            if key not in given:
                given[key] = _free_name(folder, wishes[number], taken)
                taken.add(given[key])
                added.append(RowPlan(file=given[key], asked_sha256=key))
        if text is not None and not added:
            return text
        return _written((*kept, *added))

    change_text(folder / RUN_NAME, _HEADER, with_names, create=True)
    named = {number: folder / given[key] for number, key in keys.items()}
    return named | {it.number: it.plan_path for it in rows if it.plan_path is not None}


def note_times(folder: Path, made: Mapping[str, tuple[int, float]]) -> None:
    """
    Note how long prints took, for the forecast of the next run.

    Parameters
    ----------
    made : mapping of str to (int, float)
        Pixels and seconds by the name of the plan.
    """

    def with_times(text: str | None) -> str:
        kept = () if text is None else _parse(text, str(folder / RUN_NAME))
        return _written(
            tuple(
                replace(it, pixels=made[it.file][0], seconds=round(made[it.file][1], 3))
                if it.file in made
                else it
                for it in kept
            )
        )

    if made:
        change_text(folder / RUN_NAME, _HEADER, with_times, create=True)


def _parse(text: str, where: str) -> tuple[RowPlan, ...]:
    table = parse_text(text, _HEADER, where=where)
    plans = value_from_table(_Layout, table, where=where).plans
    for it in plans:
        if Path(it.file).name != it.file or not it.file.endswith(".toml"):
            raise RecordError(
                f'{where} names a plan "{it.file}", which is no plan in its folder.',
                remedy="Delete that entry; its row is then planned anew.",
            )
    return plans


def _written(plans: tuple[RowPlan, ...]) -> str:
    return text_from_value(_Layout(plans=plans), _HEADER, _COMMENTS)


def _asked_sha256(wish: JobWish, folder: Path) -> str:
    """Hash of what is asked, that stays the same where a studio moves as a whole."""
    place = os.path.relpath(wish.master.file, folder)
    near = replace(wish, master=replace(wish.master, file=Path(place).as_posix()))
    told = {name: it for name, it in asdict(near).items() if it not in (None, "")}
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


def _free_name(folder: Path, wish: JobWish, taken: set[str]) -> str:
    """Photograph, size and paper, as far as the row names them."""
    lengths = (wish.width_mm, wish.height_mm, wish.longest_mm)
    sizes = [short_words(LengthUnit.MM, it) for it in lengths if it is not None]
    parts = [Path(wish.master.file).stem, *sizes]
    parts += [f"on {wish.paper}"] if wish.paper else []
    words = "-".join(re.findall(r"\w+", " ".join(parts).casefold())) or "print"
    stem = words[:_LONGEST_NAME].rstrip("-")
    number, name = 1, f"{stem}.toml"
    while name in taken or free_path(folder / name).name != name:
        number += 1
        name = f"{stem}-{number}.toml"
    return name
