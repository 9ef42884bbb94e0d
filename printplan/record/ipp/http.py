"""How does a message get to a printer over HTTP, and its answer back?"""

from __future__ import annotations

import ssl
from contextlib import closing, suppress
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

from printplan.errors import RecordError, Setting
from printplan.record.ipp.job_ticket import content_words, listed, on_one_line
from printplan.record.ipp.keywords import GroupTag, Operation, Status, word_of
from printplan.record.ipp.message import decode_message, encode_message

if TYPE_CHECKING:
    from collections.abc import Iterator
    from http.client import HTTPResponse
    from pathlib import Path
    from typing import BinaryIO

    from printplan.record.ipp.message import Attribute, Message


NOT_ACCEPTING_REMEDY: Final = (
    "Look at the printer: it is paused, or needs paper or ink."
)
"""For a printer that takes no jobs now."""

_NO_PASSWORDS: Final = (
    "Permit this computer to print without a password in the printer's own settings; "
    "printplan holds no passwords."
)
_CHECK_PATH: Final = (
    "Check the path after the printer's name; ipp://NAME/ipp/print is the usual one."
)

_REMEDIES: Final[dict[int, str]] = {
    Status.CLIENT_ERROR_NOT_AUTHENTICATED: _NO_PASSWORDS,
    Status.CLIENT_ERROR_NOT_FOUND: _CHECK_PATH,
    Status.CLIENT_ERROR_DOCUMENT_FORMAT_NOT_SUPPORTED: "Make the file with printplan "
    "render, and print it from a program that has this printer's driver.",
    Status.CLIENT_ERROR_ATTRIBUTES_OR_VALUES_NOT_SUPPORTED: "Change what is named "
    "here in the plan, or leave the choice to the printer.",
    Status.CLIENT_ERROR_CONFLICTING_ATTRIBUTES: "What is named here does not go "
    "together on this printer, often paper and feed path: change one of them.",
    Status.SERVER_ERROR_BUSY: "Wait until it has printed what it has, and send again.",
    Status.SERVER_ERROR_NOT_ACCEPTING_JOBS: NOT_ACCEPTING_REMEDY,
}


def refusal(request: Message, reply: Message) -> RecordError:
    """
    Put a printer's refusal into words.

    Parameters
    ----------
    request : Message
        What it was asked.
    reply : Message
        Its status is no success.

    Returns
    -------
    RecordError
        With the status, the printer's own message and the attributes that it names
        as not supported.

    Notes
    -----
    A printer gives back the attributes that it does not support with the values
    asked for, or without one if it does not know the name (RFC 8011, 4.1.7).
    """
    said = reply.attributes(GroupTag.OPERATION_ATTRIBUTES).get("status-message")
    message = f" ({content_words(said.contents[0])})" if said else ""
    named = reply.attributes(GroupTag.UNSUPPORTED_ATTRIBUTES)
    names = "; ".join(map(_shown, named.values()))
    # Some printers name the document's format among the attributes instead.
    wrong_format = Status.CLIENT_ERROR_DOCUMENT_FORMAT_NOT_SUPPORTED
    cause = wrong_format if "document-format" in named else reply.code
    return RecordError(
        f"The printer refuses {word_of(Operation, request.code)}: "
        f"{word_of(Status, reply.code)}{message}{': ' if names else ''}{names}.",
        remedy=_REMEDIES.get(cause, "Look at the printer's own panel, and try again."),
        setting=Setting.WITHOUT
        if cause == Status.CLIENT_ERROR_ATTRIBUTES_OR_VALUES_NOT_SUPPORTED
        else None,
    )


def _shown(attribute: Attribute) -> str:
    given = (it for it in attribute.contents if it is not None)
    return f"{attribute.name} {listed(given)}".rstrip()


IPP_PORT = 631
"""Port of a printer that names none (RFC 3510, 4.2)."""

SILENCE_S = 60.0
"""Longest wait for a sign of the printer: some wake up slowly. Our choice."""

LARGEST_ANSWER_BYTES = 16_000_000
"""A longer answer is none of a printer: theirs take some 10 kB to 1 MB. Our choice."""

_MEDIA_TYPE = "application/ipp"
_CHUNK_BYTES = 2**17
_OK = 200

# What to do about HTTP answers that a printer is known to give (RFC 9110, 15).
_HTTP_REMEDIES = {
    401: _NO_PASSWORDS,
    403: "Permit this computer to print in the printer's own settings.",
    404: _CHECK_PATH,
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
    silence_s: float = SILENCE_S,
) -> Message:
    """
    Send a request, and a document after it, and read the answer.

    Parameters
    ----------
    document : Path, optional
        Follows the request in chunks; it is never in memory whole.
    silence_s : float, optional
        Longest wait, in seconds, for any one sign of the printer.

    Returns
    -------
    Message
        Its status is not judged here.

    Raises
    ------
    RecordError
        If the printer cannot be reached, breaks off, or answers something else.
    """
    head = encode_message(request)
    try:
        with closing(_connection(address, silence_s)) as connection:
            if document is None:
                answer = _post(connection, address, head, len(head))
            else:
                with document.open("rb") as file:
                    length = len(head) + document.stat().st_size
                    answer = _post(connection, address, _body(head, file), length)
            data = answer.read(LARGEST_ANSWER_BYTES + 1)
    except ssl.SSLError as error:
        raise RecordError(
            f"{address.uri}: no trusted encrypted connection "
            f"({error.reason or error}).",
            remedy="Let this computer trust the printer's certificate, or, inside your "
            "own network, write ipp:// instead of ipps://.",
        ) from error
    except (OSError, HTTPException) as error:
        raise _unreachable(address, error, silence_s) from error
    _require_answer(address, answer, data)
    reply = decode_message(data)
    if reply.request_id != request.request_id:
        raise RecordError(
            f"{address.uri} answers the request {reply.request_id}; this was "
            f"{request.request_id}.",
            remedy="Try again; if it happens twice, restart the printer.",
        )
    return reply


def _connection(address: PrinterAddress, silence_s: float) -> HTTPConnection:
    if address.encrypted:
        return HTTPSConnection(
            address.host,
            address.port,
            timeout=silence_s,
            context=ssl.create_default_context(),
        )
    return HTTPConnection(address.host, address.port, timeout=silence_s)


def _body(head: bytes, document: BinaryIO) -> Iterator[bytes]:
    yield head
    while chunk := document.read(_CHUNK_BYTES):
        yield chunk


def _post(
    connection: HTTPConnection,
    address: PrinterAddress,
    body: bytes | Iterator[bytes],
    length: int,
) -> HTTPResponse:
    """
    Send with POST (RFC 8010, 4).

    A printer that refuses a job may answer and hang up before it has heard all; the
    answer is worth more than the broken line.
    """
    headers = {"Content-Type": _MEDIA_TYPE, "Content-Length": str(length)}
    connection.connect()
    with suppress(BrokenPipeError, ConnectionResetError):
        connection.request("POST", address.path, body=body, headers=headers)
    return connection.getresponse()


def _unreachable(
    address: PrinterAddress, error: OSError | HTTPException, silence_s: float
) -> RecordError:
    where = f"{address.host}, port {address.port},"
    if isinstance(error, TimeoutError):
        return RecordError(
            f"The printer at {where} gave no sign for {silence_s:g} s.",
            remedy="Check that it is switched on and awake, and on this network.",
        )
    if isinstance(error, ConnectionRefusedError):
        return RecordError(
            f"Nothing takes print jobs at {where} of {address.uri}.",
            remedy="Check the port (631 is the usual one), and that printing over IPP "
            "is switched on in the printer's own settings.",
        )
    reason = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return RecordError(
        f"The printer at {where} cannot be spoken to ({reason}).",
        remedy="Check its name and that it is on this network, and try again.",
    )


def _require_answer(address: PrinterAddress, answer: HTTPResponse, data: bytes) -> None:
    if answer.status != _OK:
        reason = on_one_line(answer.reason)
        raise RecordError(
            f"{address.uri} answered HTTP {answer.status} {reason}.",
            remedy=_HTTP_REMEDIES.get(
                answer.status, "Restart the printer, and try again."
            ),
        )
    kind = on_one_line(answer.headers.get_content_type())
    if kind != _MEDIA_TYPE:
        raise RecordError(
            f"{address.uri} answered {kind} instead of {_MEDIA_TYPE}.",
            remedy=_CHECK_PATH,
        )
    if len(data) > LARGEST_ANSWER_BYTES:
        raise RecordError(
            f"{address.uri} answered more than {LARGEST_ANSWER_BYTES / 1e6:g} MB.",
            remedy="Check that this is the address of a printer.",
        )
