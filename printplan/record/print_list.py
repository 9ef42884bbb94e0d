"""Which prints were made in a studio, and how did each come out?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.foreign_file import is_regular
from printplan.record.job_list import files_of_jobs, newest_entries
from printplan.record.made_files import made_in
from printplan.record.sidecar import RECORD_ENDING, records_in

if TYPE_CHECKING:
    from datetime import datetime

    from printplan.errors import PrintPlanError
    from printplan.record.journal.entry import JournalEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePrint:
    """
    A finished file by its record, and what the journal says of it.

    Attributes
    ----------
    file_path : Path
        As the record names it.
    is_there : bool
        Whether that file is there and no later record is of the same name.
    photograph : Path
        The master.
    paper, printer : str
        As the book called them when it was made.
    entry : JournalEntry or None
        The newest entry about it.
    """

    record_path: Path
    file_path: Path
    is_there: bool
    made_at: datetime
    photograph: Path
    paper: str
    printer: str
    entry: JournalEntry | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintList:
    """
    The prints of a studio.

    Attributes
    ----------
    prints : tuple of MadePrint
        Newest first.
    problems : tuple of PrintPlanError
        Why a record or the journal cannot be read.
    """

    prints: tuple[MadePrint, ...] = ()
    problems: tuple[PrintPlanError, ...] = ()


def list_prints(folder: str | Path, journal: str | Path | None = None) -> PrintList:
    """
    The prints whose records lie in a folder and below its `job_folders`.

    Parameters
    ----------
    folder : str or Path
        A studio's, or that of one job.
    journal : str or Path, optional
        Which need not be there yet.

    Raises
    ------
    RecordError
        If the folder cannot be read.
    """
    folder = Path(folder).absolute()
    records_in(folder)  # which refuses a folder that cannot be read
    problems: list[PrintPlanError] = []
    entries = newest_entries(journal, problems)
    beside = {it.parent for it in files_of_jobs(folder, f"*{RECORD_ENDING}")}
    made = [it for each in sorted(beside) for it in made_in(each, problems)]
    made.sort(key=lambda it: (it.made_at, it.record_path), reverse=True)
    claimed: set[Path] = set()
    prints = []
    for it in made:
        is_newest = it.file_path not in claimed
        claimed.add(it.file_path)
        prints.append(
            MadePrint(
                record_path=it.record_path,
                file_path=it.file_path,
                is_there=is_newest and is_regular(it.file_path),
                made_at=it.made_at,
                photograph=Path(it.asked.master.file),
                paper=it.asked.paper,
                printer=it.asked.printer,
                entry=entries.get(it.sha256),
            )
        )
    return PrintList(prints=tuple(prints), problems=tuple(problems))
