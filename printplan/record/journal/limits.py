"""What cannot be kept of a print: texts, moments, hashes and amounts."""

from __future__ import annotations

import re
from math import isfinite
from typing import TYPE_CHECKING

from printplan.errors import RecordError

if TYPE_CHECKING:
    from datetime import datetime

_SHA256 = re.compile("[0-9a-f]{64}")


def require_zone(moment: datetime) -> None:
    """
    Refuse a moment that is not the same everywhere.

    Parameters
    ----------
    moment : datetime

    Raises
    ------
    RecordError
        If it has no time zone.
    """
    if moment.utcoffset() is None:
        raise RecordError(
            f"The moment {moment.isoformat()} has no time zone.",
            remedy="Give it with its offset from UTC, as 2026-05-03T14:05:00+02:00.",
        )


def require_text(text: str) -> None:
    """
    Refuse text that no file can hold.

    Parameters
    ----------
    text : str

    Raises
    ------
    RecordError
        If it holds half of a character pair, or a zero character.
    """
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise RecordError(
            f"{text!r} holds half of a character pair, which no file can hold.",
            remedy="Type it again.",
        ) from error
    if "\0" in text:
        raise RecordError(
            f"{text[:80]!r} holds a zero character.", remedy="Type it again."
        )


def require_filled(what: str, text: str) -> None:
    """
    Refuse an empty name.

    Parameters
    ----------
    what : str
        Whose name.
    text : str

    Raises
    ------
    RecordError
        If there is nothing in it but space.
    """
    if not text.strip():
        raise RecordError(f"The {what} is empty.", remedy="Give it a word or two.")


def require_hash(what: str, sha256: str) -> None:
    """
    Refuse what is no SHA-256.

    Parameters
    ----------
    what : str
        Of what it is the hash.
    sha256 : str

    Raises
    ------
    RecordError
        If it is not 64 hexadecimal digits in small letters.
    """
    if _SHA256.fullmatch(sha256) is None:
        raise RecordError(
            f"The hash of the {what} is {sha256!r}.",
            remedy="Give its SHA-256 as 64 digits from 0 to f.",
        )


def require_amount(what: str, amount: float, unit: str) -> None:
    """
    Refuse an amount that cannot have been used.

    Parameters
    ----------
    what : str
    amount : float
    unit : str

    Raises
    ------
    RecordError
        If it is not above 0, or no number.
    """
    if not isfinite(amount) or amount <= 0:
        raise RecordError(
            f"{what} is {amount:g} {unit}; it must be above 0.",
            remedy="Give what was used, or nothing if it is not known.",
        )


def require_reason(why: str) -> None:
    """
    Refuse a change that does not say why.

    Parameters
    ----------
    why : str

    Raises
    ------
    RecordError
        If there is nothing in it but space.
    """
    require_text(why)
    if not why.strip():
        raise RecordError(
            "No reason is given.", remedy="Say in a few words why; it is kept."
        )
