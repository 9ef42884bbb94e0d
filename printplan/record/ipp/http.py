"""How does a message get to a printer over HTTP, and its answer back?"""

from __future__ import annotations

import os
import ssl
from contextlib import closing
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException
from ssl import SSLEOFError
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from printplan.errors import RecordError
from printplan.foreign_file import open_foreign
from printplan.record.ipp.keywords import LAST_SUCCESS
from printplan.record.ipp.message import decode_message, encode_message
from printplan.record.ipp.refusal import CHECK_PATH, NO_PASSWORDS
from printplan.record.ipp.timed_line import FOR_PAGES, FOR_QUESTIONS, TimedLine
from printplan.shown_text import shortened

if TYPE_CHECKING:
    from collections.abc import Iterator
    from http.client import HTTPResponse
    from pathlib import Path
    from typing import BinaryIO

    from printplan.record.ipp.message import Message
    from printplan.record.ipp.timed_line import Patience


IPP_PORT = 631
"""Port of a printer that names none (RFC 3510, 4.2)."""

LARGEST_ANSWER_BYTES = 16_000_000
"""A longer answer is none of a printer: theirs take some 10 kB to 1 MB. Our choice."""

_MEDIA_TYPE = "application/ipp"
_VERSIONS = {1, 2}  # major ones of RFC 8011, 4.1.8, and PWG 5100.12
_CHUNK_BYTES = 2**17
_HEAD_BYTES = 1_000_000
_OK = 200
_REDIRECTIONS = range(300, 400)
_CLIENT_ERRORS = range(400, 500)

# What to do about HTTP answers that a printer is known to give (RFC 9110, 15).
_HTTP_REMEDIES = {
    401: NO_PASSWORDS,
    403: "Permit this computer to print in the printer's own settings.",
    404: CHECK_PATH,
    413: "Render the page at a lower resolution; the printer takes no file as long.",
    426: "Write ipps:// instead of ipp://; this printer wants an encrypted connection.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterAddress:
    """
    Where a printer is.

    Attributes
    ----------
    uri : str
        As it is told to the printer itself.
    encrypted : bool
        Whether TLS is spoken; the printer's certificate must then be trusted here.
    """

    uri: str
    host: str
    port: int
    path: str
    encrypted: bool


def printer_address(uri: str) -> PrinterAddress:
    """
    Read the address of a printer.

    Parameters
    ----------
    uri : str
        ``ipp://host:port/path``, or ``ipps://`` for an encrypted connection.

    Raises
    ------
    RecordError
        If it is no such address.

    References
    ----------
    .. [1] RFC 3510, IPP URL Scheme; RFC 7472, IPP over HTTPS and the "ipps" Scheme.

    Examples
    --------
    >>> printer_address("ipp://studio.example/ipp/print").port
    631
    """
    remedy = (
        "Write ipp://NAME:631/ipp/print with the printer's name or number; its own "
        "network page tells them."
    )
    try:
        parts = urlsplit(uri)
        port = parts.port or IPP_PORT
    except ValueError as error:
        problem = f"{uri!r} is no address of a printer ({error})."
        raise RecordError(problem, remedy=remedy) from error
    # What RFC 3986 leaves out of an address must not reach the head of a request.
    printable = uri.isascii() and uri.isprintable() and " " not in uri
    if parts.scheme not in {"ipp", "ipps"} or not parts.hostname or not printable:
        raise RecordError(f"{uri!r} is no address of a printer.", remedy=remedy)
    if parts.username is not None or parts.query or parts.fragment:
        raise RecordError(
            f"{uri!r} holds more than a printer's name and path.",
            remedy=f"{remedy} Leave out names before @, and all from ? or # on.",
        )
    return PrinterAddress(
        uri=uri,
        host=parts.hostname,
        port=port,
        path=parts.path or "/",
        encrypted=parts.scheme == "ipps",
    )


def exchange(
    address: PrinterAddress,
    request: Message,
    document: Path | None = None,
    *,
    patience: Patience | None = None,
) -> Message:
    """
    Send a request, and a document after it, and read the answer.

    Parameters
    ----------
    document : Path, optional
        Follows the request in chunks; it is never in memory whole.
    patience : Patience, optional
        How long that may take; by default `FOR_PAGES` with a document, else
        `FOR_QUESTIONS`.

    Returns
    -------
    Message
        Its status is not judged here.

    Raises
    ------
    RecordError
        If the printer cannot be reached, takes too long, breaks off, or answers
        something else. With a document, it says whether the printer may have it.
    """
    head = encode_message(request)
    if document is None:
        return _answered(address, request, _Body(head), patience or FOR_QUESTIONS)
    with open_foreign(document, raises=RecordError, what="The page") as file:
        body = _Body(head, file)
        try:
            return _answered(address, request, body, patience or FOR_PAGES)
        except _RefusedError:
            raise
        except RecordError as error:
            raise _about_the_page(error, body) from error


class _RefusedError(RecordError):
    """The printer says that it does not take the request."""


def _about_the_page(error: RecordError, body: _Body) -> RecordError:
    """Say whether a page may be printed though something went wrong."""
    if not body.page_begun:
        problem = f"{error.problem} The page was not sent."
        return RecordError(problem, remedy=error.remedy)
    return RecordError(
        f"{error.problem} The page was on its way.",
        remedy=f"Look at the printer before you send it again: it may well print. "
        f"{error.remedy}",
    )


class _Body:
    """
    What is sent: a request, and a page behind it.

    Attributes
    ----------
    length : int
        Bytes of both.
    sent : int
        Bytes given so far.
    """

    def __init__(self, head: bytes, file: BinaryIO | None = None) -> None:
        self._head = head
        self._file = file
        self.length = len(head)
        if file is not None:
            self.length += os.fstat(file.fileno()).st_size
        self.sent = 0

    @property
    def page_begun(self) -> bool:
        """Whether the printer may have something of the page."""
        return self.sent > len(self._head)

    @property
    def is_sent(self) -> bool:
        """Whether all was given."""
        return self.sent == self.length

    def __iter__(self) -> Iterator[bytes]:
        self.sent = len(self._head)
        yield self._head
        while self._file is not None and (chunk := self._file.read(_CHUNK_BYTES)):
            self.sent += len(chunk)
            yield chunk


def _answered(
    address: PrinterAddress, request: Message, body: _Body, patience: Patience
) -> Message:
    most_bytes = LARGEST_ANSWER_BYTES + _HEAD_BYTES
    line = TimedLine(patience, body.length, most_bytes=most_bytes)
    try:
        with closing(_connection(address, line)) as connection:
            is_heard = _post(connection, line, address, body)
            answer = connection.getresponse()
            data = answer.read(LARGEST_ANSWER_BYTES + 1)
    # What http.client makes of numbers and letters that are none is a ValueError.
    except (OSError, HTTPException, ValueError) as error:
        raise _unreachable(address, error, line) from error
    finally:
        line.hang_up()
    _require_answer(address, answer, data)
    reply = decode_message(data)
    if reply.version[0] not in _VERSIONS:
        raise RecordError(
            f"{address.uri} answers in version {reply.version[0]} of the protocol; "
            "1 and 2 are understood.",
            remedy=CHECK_PATH,
        )
    if reply.request_id != request.request_id:
        raise RecordError(
            f"{address.uri} answers the request {reply.request_id}; this was "
            f"{request.request_id}.",
            remedy="Try again; if it happens twice, restart the printer.",
        )
    if not is_heard and reply.code <= LAST_SUCCESS:
        raise RecordError(
            f"{address.uri} hung up before it had the whole page, and says that all "
            "is well.",
            remedy="If the print is cut off, restart the printer.",
        )
    return reply


def _connection(address: PrinterAddress, line: TimedLine) -> HTTPConnection:
    context = ssl.create_default_context() if address.encrypted else None
    line.open(address.host, address.port, context)
    connection = HTTPConnection(address.host, address.port)
    connection.auto_open = 0  # one request is one connection, whatever happens to it
    connection.sock = line
    return connection


def _post(
    connection: HTTPConnection, line: TimedLine, address: PrinterAddress, body: _Body
) -> bool:
    """
    Send with POST (RFC 8010, 4); tell whether all was taken.

    A printer that refuses a job may answer and hang up, or listen no more, before it
    has heard all; the answer is worth more than the broken line.
    """
    headers = {"Content-Type": _MEDIA_TYPE, "Content-Length": str(body.length)}
    try:
        connection.request("POST", address.path, body=body, headers=headers)
    except (BrokenPipeError, ConnectionResetError, ConnectionAbortedError, SSLEOFError):
        pass
    except TimeoutError:
        line.look_once_more()
    else:
        if not body.is_sent:
            raise RecordError(
                "The page's file changed its length while it was sent.",
                remedy="Leave the file alone while it is sent.",
            )
        return True
    return False


def _unreachable(
    address: PrinterAddress,
    error: OSError | HTTPException | ValueError,
    line: TimedLine,
) -> RecordError:
    where = f"{address.host}, port {address.port},"
    if isinstance(error, TimeoutError):
        how_long = (
            f"gave no sign for {line.patience.silence_s:g} s"
            if line.left_s > 0
            else f"was not done within {line.overall_s:g} s"
        )
        return RecordError(
            f"The printer at {where} {how_long}.",
            remedy="Check that it is switched on and awake, and on this network.",
        )
    if isinstance(error, ConnectionRefusedError):
        return RecordError(
            f"Nothing takes print jobs at {where} of {address.uri}.",
            remedy="Check the port (631 is the usual one), and that printing over IPP "
            "is switched on in the printer's own settings.",
        )
    reason = getattr(error, "strerror", None) or str(error) or type(error).__name__
    if isinstance(error, ssl.SSLError) and not line.is_open:
        return RecordError(
            f"{address.uri}: no trusted encrypted connection "
            f"({error.reason or error}).",
            remedy="Let this computer trust the printer's certificate, or, inside your "
            "own network, write ipp:// instead of ipps://.",
        )
    return RecordError(
        f"The printer at {where} cannot be spoken to ({shortened(reason)}).",
        remedy="Check its name and that it is on this network, and try again.",
    )


def _require_answer(address: PrinterAddress, answer: HTTPResponse, data: bytes) -> None:
    if answer.status != _OK:
        raise _http_error(address, answer.status, answer.reason)
    kind = answer.headers.get_content_type()
    coding = answer.headers.get("Content-Encoding", "identity").strip()
    if coding.casefold() != "identity":
        kind = f"{kind} in the coding {coding}"
    if kind != _MEDIA_TYPE:
        raise RecordError(
            f"{address.uri} answered {shortened(kind)} instead of {_MEDIA_TYPE}.",
            remedy=CHECK_PATH,
        )
    if len(data) > LARGEST_ANSWER_BYTES:
        raise RecordError(
            f"{address.uri} answered more than {LARGEST_ANSWER_BYTES / 1e6:g} MB.",
            remedy="Check that this is the address of a printer.",
        )


def _http_error(address: PrinterAddress, status: int, reason: str) -> RecordError:
    remedy = _HTTP_REMEDIES.get(status, "Restart the printer, and try again.")
    if status in _REDIRECTIONS:
        remedy = "Write the address that its own network page tells for printing."
    kind = _RefusedError if status in _CLIENT_ERRORS else RecordError
    problem = f"{address.uri} answered HTTP {status} {shortened(reason)}."
    return kind(problem, remedy=remedy)
