"""How do choices that nobody saved outlive a kernel that ends?"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from glob import escape
from pathlib import Path
from time import sleep, time
from typing import TYPE_CHECKING, NamedTuple

from printplan.errors import PrintPlanError, RecordError
from printplan.own_process import (
    is_alive,
    is_left_behind,
    is_of_this_computer,
    maker_in,
    this_process,
)
from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.workbook.latest_only import LatestOnly

if TYPE_CHECKING:
    from printplan.own_process import Maker
    from printplan.record.plan_file import PlanFile
    from printplan.workbook.bench import Bench, Change

_PAUSE_S = 0.4
"""How long no control moves before the choices are written. Our choice."""


class Found(NamedTuple):
    """
    Choices of an earlier kernel that were never saved.

    Attributes
    ----------
    path : Path
        The file that holds them.
    plan_file : PlanFile
        With whole paths.
    at : datetime.datetime
        When the last of them was made.
    """

    path: Path
    plan_file: PlanFile
    at: datetime


class UnsavedChoices:
    """
    Writes what differs from the plan file into a hidden file beside it, and takes it
    away once it is saved; it watches the bench.

    Parameters
    ----------
    bench : Bench
        One that was opened from a plan file.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._is_replaced = False
        self._writing: LatestOnly[None] = LatestOnly(
            lambda _: self._write_unreplaced(), lambda _: None
        )
        bench.watch("unsaved", self)

    def plan_changed(self, change: Change) -> None:
        """Write the choices soon; a control that moves on puts it off."""
        if change.refusal is None and change.parts:
            self._writing.do(lambda: sleep(_PAUSE_S))

    def replaced(self) -> None:
        """Stop: a newer one watches the bench."""
        self._is_replaced = True

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until all choices are written.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._writing.settle(timeout_s)

    def write(self) -> None:
        """Write the choices that are not saved now, or take away what was written."""
        bench, files = self._bench, self._bench.files
        if files is None:
            return
        path = unsaved_path(files.plan_path)
        whole = replace(
            files.whole_wish,
            master=bench.master_spec,
            paper=bench.paper.name,
            printer=bench.printer.name,
            spec=bench.spec,
            note=bench.note,
        )
        with suppress(PrintPlanError, OSError):  # a full disk must not stop the work
            if whole == files.whole_wish:
                path.unlink(missing_ok=True)
            else:
                write_plan_file(whole, path, overwrite=True)

    def _write_unreplaced(self) -> None:
        if not self._is_replaced:
            self.write()


def unsaved_path(plan_path: Path, maker: Maker | None = None) -> Path:
    """Where a process keeps what was not saved of a plan."""
    maker = this_process() if maker is None else maker
    return plan_path.with_name(f".{plan_path.stem}.unsaved-{maker}.toml")


def find_unsaved(plan_path: str | Path) -> Found | None:
    """
    The newest choices that an ended kernel left of a plan.

    Returns
    -------
    Found or None
        None if there are none, or what is there cannot be read as a plan.
    """
    found = [it for it in _left_of(Path(plan_path)) if not _is_kept_open(it)]
    for path in sorted(found, key=_time_of, reverse=True):
        with suppress(PrintPlanError):
            at = datetime.fromtimestamp(_time_of(path)).astimezone()
            return Found(path, read_plan_file(path), at)
    return None


def open_elsewhere(plan_path: str | Path) -> bool:
    """Whether another kernel has choices of this plan that are not saved."""
    own = unsaved_path(Path(plan_path))
    others = (it for it in _left_of(Path(plan_path)) if it.name != own.name)
    return any(map(_is_kept_open, others))


def apply_unsaved(bench: Bench, found: Found) -> None:
    """
    Put choices that were found on the bench; their file goes.

    Raises
    ------
    PrintPlanError
        If the print cannot be made so any more; the file stays.
    """
    wanted = found.plan_file
    if wanted.master.file != bench.master_spec.file:
        raise RecordError(
            f"Unsaved choices of {found.at:%d %B, %H:%M} were made for another master, "
            f"{Path(wanted.master.file).name}.",
            remedy=f"They are kept in {found.path.name}; open it as a plan to go on.",
        )
    if (wanted.paper, wanted.printer) != (bench.paper.name, bench.printer.name):
        bench.change_paper(
            wanted.paper, printer=wanted.printer, setup=wanted.spec.setup
        )
    bench.ask(wanted.spec)
    bench.change_note(wanted.note)
    found.path.unlink(missing_ok=True)


def _left_of(plan_path: Path) -> list[Path]:
    return list(plan_path.parent.glob(f".{escape(plan_path.stem)}.unsaved-*.toml"))


def _is_kept_open(path: Path) -> bool:
    """Whether the process that wrote a file still runs, as far as can be known."""
    maker = maker_in(path.name)
    if maker is None:  # earlier versions wrote the number alone
        number = path.stem.rpartition("-")[2]
        process = int(number) if number.isdecimal() else 0
        maker = replace(this_process(), process=process, started="0")
    alive = maker.process > 0 and is_alive(maker)
    if alive is None and not is_of_this_computer(maker):
        return not is_left_behind(maker, time() - _time_of(path))
    return bool(alive)


def _time_of(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0
