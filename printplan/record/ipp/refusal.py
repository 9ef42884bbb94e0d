"""What does it mean that a printer refuses, and what can be done about it?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError, Setting
from printplan.record.ipp.job_ticket import content_words, listed
from printplan.record.ipp.keywords import GroupTag, Operation, Status, word_of

if TYPE_CHECKING:
    from printplan.record.ipp.message import Attribute, Message

NOT_ACCEPTING_REMEDY: Final = (
    "Look at the printer: it is paused, or needs paper or ink."
)
"""For a printer that takes no jobs now."""

NO_PASSWORDS: Final = (
    "Permit this computer to print without a password in the printer's own settings; "
    "printplan holds no passwords."
)
"""For a printer that asks who prints."""
CHECK_PATH: Final = (
    "Check the path after the printer's name; ipp://NAME/ipp/print is the usual one."
)
"""For an address at which something else answers."""

_REMEDIES: Final[dict[int, str]] = {
    Status.CLIENT_ERROR_NOT_AUTHENTICATED: NO_PASSWORDS,
    Status.CLIENT_ERROR_NOT_FOUND: CHECK_PATH,
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
