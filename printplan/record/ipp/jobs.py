"""How does a plan's page get to a printer, and what becomes of it there?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.own_folders import passing_folder
from printplan.pixels.render import render
from printplan.record.ipp.http import exchange, printer_address
from printplan.record.ipp.job_ticket import content_words, job_ticket, listed
from printplan.record.ipp.keywords import (
    LAST_SUCCESS,
    GroupTag,
    JobState,
    Operation,
    ValueTag,
    word_of,
)
from printplan.record.ipp.message import (
    Attribute,
    Group,
    Message,
    Value,
    one_value,
)
from printplan.record.ipp.refusal import NOT_ACCEPTING_REMEDY, refusal
from printplan.record.ipp.support import fit_ticket
from printplan.record.plan_file import open_plan_file, read_plan_file
from printplan.spec import FileFormat

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from printplan.pixels.picture_file import Progress
    from printplan.pixels.sheet import Sheet
    from printplan.record.ipp.http import PrinterAddress
    from printplan.record.ipp.job_ticket import JobTicket
    from printplan.record.ipp.support import PrinterWords


_FIRST_PAUSE_S, _LONGEST_PAUSE_S = 0.5, 5.0

_ENDED_STATES = {JobState.COMPLETED, JobState.ABORTED, JobState.CANCELED}


@dataclass(frozen=True, slots=True, kw_only=True)
class SentJob:
    """
    A job at a printer.

    Attributes
    ----------
    job_id : int
        The printer's own number for it.
    state : int
        See `JobState`.
    reasons : tuple of str
        Why it is in that state, in the standards' keywords.
    message : str
        What the printer says about it; empty if nothing.
    """

    printer: PrinterAddress
    job_id: int
    state: int
    reasons: tuple[str, ...] = ()
    message: str = ""

    @property
    def has_ended(self) -> bool:
        """Whether nothing more will become of it."""
        return self.state in _ENDED_STATES

    @property
    def words(self) -> str:
        """Its number and state, and why."""
        given = (*self.reasons, self.message)
        why = ", ".join(it for it in given if it not in {"", "none"})
        state = word_of(JobState, self.state)
        return f"Job {self.job_id} is {state}" + (f" ({why})." if why else ".")


def printer_attributes(address: PrinterAddress) -> dict[str, Attribute]:
    """
    What a printer says of itself.

    Returns
    -------
    dict of str to Attribute
        Without those that have no value.

    Raises
    ------
    RecordError
        If it cannot be asked, or takes no jobs now.
    """
    found = asked_attributes(address)
    accepting = found.get("printer-is-accepting-jobs")
    if accepting is not None and accepting.contents[0] is False:
        reasons = found.get("printer-state-reasons")
        why = listed(reasons.contents) if reasons else "no reason"
        raise RecordError(
            f"{address.uri} takes no jobs now ({why}).",
            remedy=NOT_ACCEPTING_REMEDY,
        )
    return found


def asked_attributes(address: PrinterAddress, *names: str) -> dict[str, Attribute]:
    """
    What a printer says of itself, whether it takes jobs now or not.

    Parameters
    ----------
    *names : str
        The attributes wanted; without any, all that a printer gives unasked.

    Returns
    -------
    dict of str to Attribute
        Without those that have no value.

    Raises
    ------
    RecordError
        If it cannot be asked, or refuses.

    References
    ----------
    .. [1] RFC 8011, 4.2.5, Get-Printer-Attributes.
    """
    wanted = tuple(Value(ValueTag.KEYWORD, name) for name in names)
    more = [Attribute("requested-attributes", wanted)] if wanted else []
    reply = _ask(address, _request(Operation.GET_PRINTER_ATTRIBUTES, address, more))
    return {
        name: attribute
        for name, attribute in reply.attributes(GroupTag.PRINTER_ATTRIBUTES).items()
        if any(content is not None for content in attribute.contents)
    }


def validate_job(address: PrinterAddress, ticket: JobTicket, title: str) -> None:
    """
    Ask a printer whether it takes a ticket.

    Parameters
    ----------
    title : str
        Name of the job.

    Raises
    ------
    RecordError
        If it does not, with the attributes that it names.
    """
    _ask(address, _job_request(Operation.VALIDATE_JOB, address, ticket, title))


def print_job(
    address: PrinterAddress, ticket: JobTicket, title: str, page: Path
) -> SentJob:
    """
    Send a page.

    Parameters
    ----------
    title : str
        Name of the job.
    page : Path
        A file in the ticket's document format.

    Raises
    ------
    RecordError
        If the printer cannot be reached or refuses it, with what it names.

    References
    ----------
    .. [1] RFC 8011, 4.2.1, Print-Job.
    """
    request = _job_request(Operation.PRINT_JOB, address, ticket, title)
    return _job(address, _ask(address, request, page))


def job_now(job: SentJob) -> SentJob:
    """
    Ask what has become of a job.

    Raises
    ------
    RecordError
        If the printer cannot be asked.
    """
    target = one_value("job-id", ValueTag.INTEGER, job.job_id)
    request = _request(Operation.GET_JOB_ATTRIBUTES, job.printer, [target])
    try:
        return _job(job.printer, _ask(job.printer, request))
    except RecordError as error:
        raise RecordError(
            f"Job {job.job_id} was sent, and then: {error.problem}",
            remedy="Look at the printer before you send it again: it may well print.",
        ) from error


def watch_job(job: SentJob, *, wait_s: float) -> Iterator[SentJob]:
    """
    Follow a job until it ends.

    Parameters
    ----------
    wait_s : float
        Longest time to follow it, in seconds.

    Yields
    ------
    SentJob
        Whenever something about it has changed.

    Raises
    ------
    RecordError
        If the printer cannot be asked.
    """
    last_s = monotonic() + wait_s
    pause_s = _FIRST_PAUSE_S
    while not job.has_ended and monotonic() < last_s:
        sleep(min(pause_s, max(last_s - monotonic(), 0.0)))
        pause_s = min(pause_s * 1.5, _LONGEST_PAUSE_S)
        seen = job_now(job)
        if seen != job:
            job = seen
            yield job


def _request(
    operation: Operation,
    address: PrinterAddress,
    more: list[Attribute],
    *groups: Group,
) -> Message:
    """Operation attributes in the order of RFC 8011, 4.1.4 and 4.1.5."""
    first = [
        one_value("attributes-charset", ValueTag.CHARSET, "utf-8"),
        one_value("attributes-natural-language", ValueTag.NATURAL_LANGUAGE, "en"),
        one_value("printer-uri", ValueTag.URI, address.uri),
    ]
    group = Group(GroupTag.OPERATION_ATTRIBUTES, (*first, *more))
    return Message(code=operation, groups=(group, *groups))


def _job_request(
    operation: Operation, address: PrinterAddress, ticket: JobTicket, title: str
) -> Message:
    """
    Request with a ticket in it.

    With ``ipp-attribute-fidelity`` a printer refuses what it cannot do instead of
    printing something else (RFC 8011, 4.2.1.1).
    """
    named = [
        one_value("job-name", ValueTag.NAME_WITHOUT_LANGUAGE, title),
        one_value("ipp-attribute-fidelity", ValueTag.BOOLEAN, content=True),
        one_value("document-format", ValueTag.MIME_MEDIA_TYPE, ticket.document_format),
    ]
    group = Group(GroupTag.JOB_ATTRIBUTES, ticket.attributes)
    return _request(operation, address, named, group)


def _ask(
    address: PrinterAddress, request: Message, document: Path | None = None
) -> Message:
    """Exchange, and refuse what is no success."""
    reply = exchange(address, request, document)
    if reply.code > LAST_SUCCESS:
        raise refusal(request, reply)
    return reply


def _job(address: PrinterAddress, reply: Message) -> SentJob:
    found = reply.attributes(GroupTag.JOB_ATTRIBUTES)
    numbers = {}
    for name in ("job-id", "job-state"):
        content = found[name].contents[0] if name in found else None
        if not isinstance(content, int):
            raise RecordError(
                f"{address.uri} answers without {name}.",
                remedy="Look at the printer: the job may be there all the same.",
            )
        numbers[name] = content
    reasons = found.get("job-state-reasons")
    message = found.get("job-state-message")
    return SentJob(
        printer=address,
        job_id=numbers["job-id"],
        state=numbers["job-state"],
        reasons=tuple(map(content_words, reasons.contents)) if reasons else (),
        message=listed(message.contents).rstrip(".") if message else "",
    )


PATIENCE_S = 600.0
"""How long a job is watched unless said otherwise. Our choice."""


def validate_plan(
    path: str | Path, to: str, words: PrinterWords, *, report: Callable[[str], None]
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
    report : callable
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
        return _agreed(sheet, Path(path).stem, address, words, report)


def send_plan(  # noqa: PLR0913 - each is one question to the user
    path: str | Path,
    to: str,
    words: PrinterWords,
    *,
    wait_s: float = PATIENCE_S,
    report: Callable[[str], None],
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
    report : callable
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
    with sheet.master, passing_folder() as folder:
        ticket = _agreed(sheet, title, address, words, report)
        made = render(sheet, Path(folder) / "page.pdf", progress=progress)
        report(f"{made.bytes_written / 1e6:.1f} MB go to {address.uri}.")
        try:
            job = print_job(address, ticket, title, made.path)
        except KeyboardInterrupt:
            report("Look at the printer before you send it again: it may well print.")
            raise
    report(job.words)
    for seen in watch_job(job, wait_s=wait_s):
        job = seen
        report(job.words)
    if not job.has_ended:
        report(f"It was watched for {wait_s:g} s; the printer goes on by itself.")
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
    return open_plan_file(replace(wish, spec=replace(wish.spec, delivery=delivery)))


def _agreed(
    sheet: Sheet,
    title: str,
    address: PrinterAddress,
    words: PrinterWords,
    report: Callable[[str], None],
) -> JobTicket:
    """The ticket in words that the printer said it takes."""
    ticket = fit_ticket(job_ticket(sheet.plan), printer_attributes(address), words)
    for note in ticket.notes:
        report(note)
    validate_job(address, ticket, title)
    return ticket
