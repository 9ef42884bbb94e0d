"""How does a plan's page get to a printer, and what becomes of it there?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.pixels.render import render
from printplan.record.ipp.http import printer_address
from printplan.record.ipp.job_ticket import job_ticket
from printplan.record.ipp.jobs import ask_printer, print_job, validate_job, watch_job
from printplan.record.ipp.keywords import JobState
from printplan.record.ipp.support import fit_ticket
from printplan.record.open_plan import open_wish
from printplan.record.plan_file import read_plan_file
from printplan.spec import FileFormat

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.picture_file import Progress
    from printplan.pixels.sheet import Sheet
    from printplan.record.ipp.http import PrinterAddress
    from printplan.record.ipp.job_ticket import JobTicket
    from printplan.record.ipp.jobs import SentJob
    from printplan.record.ipp.support import PrinterWords

PATIENCE_S = 600.0
"""How long a job is watched unless said otherwise. Our choice."""


def rehearse_plan(
    path: str | Path, to: str, words: PrinterWords, *, tell: Callable[[str], None]
) -> JobTicket:
    """
    Ask a printer whether it would take a plan; nothing is rendered or printed.

    Parameters
    ----------
    path : str or Path
        The plan file.
    to : str
        Address of the printer, ``ipp://host:port/path``.
    words : PrinterWords
        Its words for feed path and paper.
    tell : callable
        Takes one line for each thing to know.

    Returns
    -------
    JobTicket
        In the printer's words.

    Raises
    ------
    PrintPlanError
        If the plan cannot be read, or the printer does not take it.
    """
    address = printer_address(to)
    sheet = open_page(path)
    with sheet.master:
        return _agreed(sheet, Path(path).stem, address, words, tell)


def send_plan(  # noqa: PLR0913 - each is one question to the user
    path: str | Path,
    to: str,
    words: PrinterWords,
    *,
    wait_s: float = PATIENCE_S,
    tell: Callable[[str], None],
    progress: Progress | None = None,
) -> SentJob:
    """
    Render a plan as a page, send it to a printer and watch the job.

    Parameters
    ----------
    path : str or Path
        The plan file.
    to : str
        Address of the printer, ``ipp://host:port/path``.
    words : PrinterWords
        Its words for feed path and paper.
    wait_s : float, optional
        How long the job is watched, in seconds.
    tell : callable
        Takes one line for each thing to know.
    progress : Progress, optional
        Told of each band rendered.

    Returns
    -------
    SentJob
        As it was last seen; it may still be under way.

    Raises
    ------
    PrintPlanError
        If the plan cannot be rendered, the printer does not take it, or the job
        fails.

    Notes
    -----
    The printer is asked whether it would take the job before anything is rendered.
    The page lies in a temporary folder until it has been sent.
    """
    address = printer_address(to)
    title = Path(path).stem
    sheet = open_page(path)
    with sheet.master, TemporaryDirectory(prefix="printplan-") as folder:
        ticket = _agreed(sheet, title, address, words, tell)
        made = render(sheet, Path(folder) / "page.pdf", progress=progress)
        tell(f"{made.bytes_written / 1e6:.1f} MB go to {address.uri}.")
        job = print_job(address, ticket, title, made.path)
    tell(job.words)
    for seen in watch_job(job, wait_s=wait_s):
        job = seen
        tell(job.words)
    if not job.has_ended:
        tell(f"It was watched for {wait_s:g} s; the printer goes on by itself.")
    elif job.state != JobState.COMPLETED:
        raise RecordError(
            f"The print was not made. {job.words}",
            remedy="Look at the printer's own panel for the reason, and send again.",
        )
    return job


def open_page(path: str | Path) -> Sheet:
    """
    Open a plan as the page that printers are sent.

    Parameters
    ----------
    path : str or Path
        The plan file.

    Returns
    -------
    Sheet
        A PDF, whatever file format the plan names. Close its master when done.

    Raises
    ------
    PrintPlanError
        If the plan or what it names cannot be read.
    """
    wish = read_plan_file(path).resolved(path)
    delivery = replace(wish.spec.delivery, file_format=FileFormat.PDF)
    return open_wish(replace(wish, spec=replace(wish.spec, delivery=delivery)))


def _agreed(
    sheet: Sheet,
    title: str,
    address: PrinterAddress,
    words: PrinterWords,
    tell: Callable[[str], None],
) -> JobTicket:
    """The ticket in words that the printer said it takes."""
    ticket = fit_ticket(job_ticket(sheet.plan), ask_printer(address), words)
    for note in ticket.notes:
        tell(note)
    validate_job(address, ticket, title)
    return ticket
