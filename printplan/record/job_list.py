"""Which jobs does a studio have, and how far has each come?"""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.errors import PrintPlanError
from printplan.foreign_file import is_there
from printplan.record.atomic_write import read_text
from printplan.record.journal.view import damage_told, read_journal
from printplan.record.made_files import MadeFile, made_in, own_files
from printplan.record.plan_file import PLAN_HEADER, PlanFile, parse_plan_text
from printplan.record.sidecar import RECORD_ENDING, records_in
from printplan.record.studio_folder import JOBS_FOLDER, PROFILES_FOLDER, RUN_NAME

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from printplan.record.journal.entry import JournalEntry


JOB_FOLDERS: Final = ("job", JOBS_FOLDER)
"""Folders of a studio that hold plans; `job` alone was made by earlier versions."""

_MOST_KEPT = 4096
"""Files remembered between two looks at a studio. Our choice."""


class JobState(StrEnum):
    """How far a job has come."""

    PLANNED = "planned"
    CHANGED = "changed since its file was made"
    FILE_MADE = "file made"
    PRINTED = "printed"
    DAMAGED = "cannot be read"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """
    A plan file of a studio, and what became of it.

    Attributes
    ----------
    plan_path : Path
        Absolute.
    state : JobState
        Of the plan as it is now: a file of an earlier wish is not its file.
    touched_at : datetime
        When plan, file or journal last said something new of it.
    wish : PlanFile or None
        With whole paths; None if the plan cannot be read.
    problem : PrintPlanError or None
        Why it cannot be read.
    record_path : Path or None
        The newest record of it.
    file_path : Path or None
        The finished file that this record names, which may have been moved since.
    entry : JournalEntry or None
        The newest entry of the journal about one of its files.
    """

    plan_path: Path
    state: JobState
    touched_at: datetime
    wish: PlanFile | None = None
    problem: PrintPlanError | None = None
    record_path: Path | None = None
    file_path: Path | None = None
    entry: JournalEntry | None = None

    @property
    def state_words(self) -> str:
        """The state with its outcome."""
        if self.entry is None:
            gone = self.file_path is not None and not self.file_path.exists()
            return f"{self.state}, which is not there now" if gone else str(self.state)
        entry = self.entry.entry
        told = f"{self.state} {entry.printed_at:%Y-%m-%d}: {entry.outcome}"
        return f"{told}, {entry.cause}" if entry.cause else told


@dataclass(frozen=True, slots=True, kw_only=True)
class JobList:
    """
    The jobs of a studio.

    Attributes
    ----------
    jobs : tuple of Job
        Newest first.
    problems : tuple of PrintPlanError
        What else could not be read, such as a record: the states are told without it.
    """

    jobs: tuple[Job, ...] = ()
    problems: tuple[PrintPlanError, ...] = ()


def list_jobs(folder: str | Path, journal: str | Path | None = None) -> JobList:
    """
    The jobs of a studio, from the files that lie there now.

    Parameters
    ----------
    folder : str or Path
        The studio's.
    journal : str or Path, optional
        Its journal, which need not be there yet.

    Returns
    -------
    JobList
        Each plan in the folder itself and below `job_folders`. A damaged one is among
        them with its reason.

    Raises
    ------
    RecordError
        If the folder cannot be read.
    """
    folder = Path(folder).absolute()
    records_in(folder)  # which refuses a folder that cannot be read
    problems: list[PrintPlanError] = []
    entries = newest_entries(journal, problems)
    by_folder: dict[Path, list[_Plan]] = {}
    for path in _plan_paths(folder):
        plan = _plan_at(path)
        if plan is not None:
            by_folder.setdefault(path.parent, []).append(plan)
    jobs: list[Job] = []
    for beside, plans in by_folder.items():
        jobs += _jobs(plans, made_in(beside, problems), entries)
    jobs.sort(key=lambda it: (it.touched_at, it.plan_path), reverse=True)
    return JobList(jobs=tuple(jobs), problems=tuple(problems))


def newest_entries(
    journal: str | Path | None, problems: list[PrintPlanError]
) -> Mapping[str, JournalEntry]:
    """
    The newest entry about each file, by the file's SHA-256.

    Parameters
    ----------
    problems : list of PrintPlanError
        Takes why the journal cannot be read.
    """
    entries: dict[str, JournalEntry] = {}
    if journal is not None and is_there(journal):
        try:
            with read_journal(journal) as opened:
                # In the order of their printing: the newest of a file stays.
                entries = {it.entry.file_sha256: it for it in opened.entries()}
                problems += damage_told(opened, journal)
        except PrintPlanError as error:
            problems.append(error)
    entries.pop("", None)
    return entries


def job_folders(folder: Path) -> tuple[Path, ...]:
    """
    The folders of a studio that hold plans, besides its own.

    Returns
    -------
    tuple of Path
        Those of `JOB_FOLDERS`, there or not, and those of tables of prints.
    """
    of_tables = sorted(it.parent for it in folder.glob(f"*/{RUN_NAME}"))
    named = [folder / name for name in JOB_FOLDERS]
    return (*named, *(it for it in of_tables if it not in named))


def studio_folders(folder: Path) -> tuple[Path, ...]:
    """
    The folders of a studio that printplan writes into.

    Parameters
    ----------
    folder : Path
        The studio's.

    Returns
    -------
    tuple of Path
        That one first, its profiles' folder, and all below `job_folders`.
    """
    below = (
        Path(place)
        for name in job_folders(folder)
        for place, _, _ in os.walk(name)  # which follows no links
    )
    return (folder, folder / PROFILES_FOLDER, *below)


def files_of_jobs(folder: Path, pattern: str) -> Iterator[Path]:
    """
    Find files in a studio's folder and below its `job_folders`, without hidden ones.

    Parameters
    ----------
    pattern : str
        Of their names, as for `Path.glob`.
    """
    found = [*folder.glob(pattern)]
    for name in job_folders(folder):
        found += name.rglob(pattern)
    for path in found:
        if not any(it.startswith(".") for it in path.relative_to(folder).parts):
            yield path


def _plan_paths(folder: Path) -> Iterator[Path]:
    """TOML files that may be plans, without records."""
    for path in files_of_jobs(folder, "*.toml"):
        if not path.name.endswith(RECORD_ENDING) and path.is_file():
            yield path


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """A plan file as it is now."""

    path: Path
    touched_at: datetime
    read: PlanFile | PrintPlanError


def _plan_at(path: Path) -> _Plan | None:
    """A plan file; None for one of another kind."""
    try:
        status = path.stat()
    except OSError:  # it went while the folder was read
        return None
    read = _read_plan(path, status.st_mtime_ns, status.st_size)
    if read is None:
        return None
    moment = datetime.fromtimestamp(status.st_mtime).astimezone()
    return _Plan(path=path, touched_at=moment, read=read)


def _jobs(
    plans: Sequence[_Plan],
    made: Sequence[MadeFile],
    entries: Mapping[str, JournalEntry],
) -> Iterator[Job]:
    """The plans of one folder with their states."""
    own = {
        it.path: () if isinstance(it.read, PrintPlanError) else own_files(it.read, made)
        for it in plans
    }
    claimed = {it.record_path for files in own.values() for it in files}
    earlier = {
        _namesake(it.file_path.stem, plans)
        for it in made
        if it.record_path not in claimed
    }
    for plan in plans:
        if isinstance(plan.read, PrintPlanError):
            yield Job(
                plan_path=plan.path,
                state=JobState.DAMAGED,
                touched_at=plan.touched_at,
                problem=plan.read,
            )
        elif not own[plan.path]:
            changed = plan.path in earlier
            yield Job(
                plan_path=plan.path,
                state=JobState.CHANGED if changed else JobState.PLANNED,
                touched_at=plan.touched_at,
                wish=plan.read,
            )
        else:
            yield _made_job(plan, plan.read, own[plan.path], entries)


def _made_job(
    plan: _Plan,
    wish: PlanFile,
    own: Sequence[MadeFile],
    entries: Mapping[str, JournalEntry],
) -> Job:
    """A plan that a file was made of."""
    noted = [entries[it.sha256] for it in own if it.sha256 in entries]
    newest = max(own, key=lambda it: it.made_at)
    moments = [it.entry.printed_at for it in noted]
    return Job(
        plan_path=plan.path,
        state=JobState.PRINTED if noted else JobState.FILE_MADE,
        touched_at=max(plan.touched_at, newest.made_at, *moments),
        wish=wish,
        record_path=newest.record_path,
        file_path=newest.file_path,
        entry=max(noted, key=lambda it: it.entry.printed_at, default=None),
    )


def _namesake(stem: str, plans: Sequence[_Plan]) -> Path | None:
    """The plan that a file is called after: by its name, or that and a number."""
    numbered = stem.rpartition("-")
    names = [stem, numbered[0]] if numbered[2].isdecimal() else [stem]
    by_stem = {it.path.stem: it.path for it in plans}
    return next((by_stem[it] for it in names if it in by_stem), None)


@lru_cache(_MOST_KEPT)
def _read_plan(
    path: Path, _mtime_ns: int, _size: int
) -> PlanFile | PrintPlanError | None:
    """A plan with whole paths, why it cannot be read, or None for another file."""
    try:
        text = read_text(path)
        if not _is_plan(path, text):
            return None
        wish = parse_plan_text(text, where=str(path)).resolved(path)
    except PrintPlanError as error:
        return error
    return wish


def _is_plan(path: Path, text: str) -> bool:
    try:
        return tomllib.loads(text).get("format") == PLAN_HEADER.name
    except (ValueError, RecursionError):
        # Damaged: what it was meant to be is told by its words or its place.
        return PLAN_HEADER.name in text or path.parent.name in JOB_FOLDERS
