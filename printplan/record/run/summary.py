"""What is told of a run: a table that a spreadsheet reads, and where it is kept."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.free_name import free_path, give_free_name
from printplan.pixels.own_files import OwnFile, is_as_made, remember_made
from printplan.record.atomic_write import part_beside
from printplan.record.csv_text import csv_text
from printplan.record.run.totals import paper_need
from printplan.shown_text import visible
from printplan.units import length_words

if TYPE_CHECKING:
    from printplan.plan import PrintPlan
    from printplan.record.run.carry_out import RowResult, RunResult

SUMMARY_NAME: Final = "summary.csv"
_HEAD: Final = (
    "row",
    "state",
    "master",
    "plan",
    "size",
    "sheet",
    "paper",
    "printer",
    "copies",
    "file",
    "sha256",
    "worst finding",
    "price of paper",
    "currency",
    "seconds",
)


def size_words(plan: PrintPlan) -> str:
    """Size of the picture on paper, in the plan's unit."""
    size = plan.picture_size
    return length_words(plan.spec.lengths_in, size.width_mm, size.height_mm)


def write_summary(result: RunResult) -> Path:
    """
    Write the rows of a run as comma-separated values into its folder.

    Returns
    -------
    Path
        ``summary.csv``; see `write_own_page`.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    rows = [_cells(it, result.folder) for it in result.rows]
    # So that a spreadsheet knows the text's encoding.
    data = ("\ufeff" + csv_text(_HEAD, rows)).encode()
    return write_own_page(data, result.folder / SUMMARY_NAME, OwnFile.SUMMARY)


def _cells(it: RowResult, folder: Path) -> list[object]:
    cells: list[object] = [it.row.number, str(it.state), visible(it.row.name)]
    prepared = it.prepared
    if prepared is None:
        cells += [None] * 6
    else:
        plan = prepared.plan
        cells += [
            visible(_near(prepared.plan_path, folder)),
            size_words(plan),
            paper_need(plan).sheet,
            plan.paper.name,
            plan.printer.name,
            plan.delivery.copies,
        ]
    if it.made is None:
        cells += [None, None]
    else:
        cells += [visible(_near(it.made.file_path, folder)), it.made.sha256]
    cells.append(it.worst)
    price = None if prepared is None or prepared.paper is None else prepared.paper.paper
    if prepared is None or prepared.paper is None or price is None:
        cells += [None, None]
    else:
        copies = prepared.plan.delivery.copies
        cells += [round(price * copies, 2), prepared.paper.currency]
    cells.append(None if it.seconds is None else round(it.seconds, 2))
    return cells


def _near(path: Path, folder: Path) -> str:
    return Path(os.path.relpath(path, folder)).as_posix()


def write_own_page(data: bytes, path: Path, kind: OwnFile) -> Path:
    """
    Write a page that tells of a run, in the place of the one before.

    Parameters
    ----------
    path : Path
        Its folder is there.

    Returns
    -------
    Path
        That one. If a file lies there that printplan did not write, or that was
        changed since, it stays, and a numbered name beside it is taken.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    is_own = path.is_file() and path.stat().st_size and is_as_made(path, kind)
    target = path if is_own else free_path(path)
    with part_beside(target, if_exists="Run the table again.") as part:
        with part.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        remember_made(hashlib.sha256(data).hexdigest(), kind)
        if is_own:
            part.replace(target)
        else:
            give_free_name(part, target)
    return target
