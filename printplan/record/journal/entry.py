"""What is noted of one print, and how did it come out?"""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from decimal import Decimal
from enum import StrEnum
from hashlib import file_digest
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.foreign_file import faults_named, open_foreign
from printplan.spec import LONGEST_MM, SHORTEST_MM

if TYPE_CHECKING:
    from datetime import datetime


_SHA256 = re.compile("[0-9a-f]{64}")


def require_zone(moment: datetime) -> None:
    """
    Refuse a moment that is not the same everywhere.

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

    Raises
    ------
    RecordError
        If there is nothing in it but space.
    """
    require_text(why)
    if not why.strip():
        raise RecordError("No reason is given.", remedy="Say in a few words why.")


CAUSES = (
    "wrong profile",
    "wrong media type",
    "wrong paper or side",
    "colour converted twice",
    "wrong size or scaled",
    "wrong place or cut off",
    "too dark for the room",
    "banding or clogged nozzle",
    "head strike or scuff",
    "dust or damage",
    "sharpening",
    "other",
)
"""What a print is lost to, as a new journal lists it (common practice, no source)."""


MOST_COPIES = 10_000
"""More copies in one entry are a slip of the pen. Our choice."""


class Outcome(StrEnum):
    """How a print came out."""

    GOOD = "good"
    MISPRINT = "misprint"
    TRIAL = "trial"


LARGEST_COST = 10**9
"""Above the price of any print in any currency. Our choice."""

_CURRENCY = re.compile("[A-Z]{3}")


class PaperUnit(StrEnum):
    """What paper is counted in."""

    SHEETS = "sheets"
    METRES = "metres"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperUsed:
    """
    Paper that went through the printer.

    Attributes
    ----------
    amount : float
        Of all copies together, above 0.
    unit : PaperUnit
        Sheets, or metres of roll.
    """

    amount: float
    unit: PaperUnit

    def __post_init__(self) -> None:
        require_amount("Paper used", self.amount, self.unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """
    What the print cost.

    Attributes
    ----------
    amount : Decimal
        Of all copies together, 0 or more.
    currency : str
        Three letters (ISO 4217).
    basis : str
        How it was computed: prices of a sheet and of a millilitre, and their day.
    """

    amount: Decimal
    currency: str
    basis: str

    def __post_init__(self) -> None:
        is_number = isinstance(self.amount, Decimal) and self.amount.is_finite()
        if not is_number or not 0 <= self.amount <= LARGEST_COST:
            raise RecordError(
                f"The cost is {self.amount!r}; it must be a Decimal from 0 to "
                f"{LARGEST_COST}.",
                remedy="Give it as a decimal number, such as 7.40, not as a float.",
            )
        if _CURRENCY.fullmatch(self.currency) is None:
            raise RecordError(
                f"The currency is {self.currency!r}, which is not three capitals.",
                remedy="Give its code by ISO 4217, such as EUR.",
            )
        if not self.basis:
            raise RecordError(
                "The cost does not say how it was computed.",
                remedy="Give the prices of paper and ink, and of which day they are.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultPhoto:
    """
    A photograph of the finished print.

    Attributes
    ----------
    sha256 : str
        Of the file, so that another one of that name is known.
    """

    path: str
    sha256: str

    def __post_init__(self) -> None:
        require_filled("photo's path", self.path)
        require_hash("photo", self.sha256)


def photo_of_result(path: str | Path) -> ResultPhoto:
    """
    A photograph of the print as it is on the disk.

    Returns
    -------
    ResultPhoto
        With its absolute path.

    Raises
    ------
    RecordError
        If it cannot be read.
    """
    with (
        open_foreign(path, raises=RecordError, what="The photo") as file,
        faults_named(path, raises=RecordError, what="The photo"),
    ):
        sha256 = file_digest(file, "sha256").hexdigest()
    return ResultPhoto(path=str(Path(path).absolute()), sha256=sha256)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintEntry:
    """
    One print, or several copies made together that came out alike.

    Attributes
    ----------
    printed_at : datetime
        With its time zone, to the second.
    plan_id : str
        What the plan is called.
    paper, printer : str
        Names in the paper book.
    width_mm, height_mm : float
        The picture on paper.
    cause : str
        What a misprint was lost to, one of the journal's causes; else empty.
    caught_by : str
        The finding, by its `topic`, that would have saved a misprint if heeded; empty
        if none would.
    copies : int
        If some came out well and some did not, they are two entries.
    file_sha256 : str
        Of the file that was printed; empty if not known.
    record_sha256 : str
        Of the record's text, which `Journal.add` fills in; empty without one.
    paper_used : PaperUsed or None
        None where it is not known; the same for the next two.
    ink_ml : float or None
        Of all copies together.
    """

    printed_at: datetime
    plan_id: str
    paper: str
    printer: str
    width_mm: float
    height_mm: float
    outcome: Outcome
    cause: str = ""
    caught_by: str = ""
    copies: int = 1
    file_sha256: str = ""
    record_sha256: str = ""
    paper_used: PaperUsed | None = None
    ink_ml: float | None = None
    cost: Cost | None = None
    photo: ResultPhoto | None = None
    note: str = ""

    def __post_init__(self) -> None:
        require_zone(self.printed_at)
        for owner in (self, self.paper_used, self.cost, self.photo):
            for field in fields(owner) if owner is not None else ():
                value = getattr(owner, field.name)
                if isinstance(value, str):
                    require_text(value)
        require_filled("plan's name", self.plan_id)
        require_filled("paper", self.paper)
        require_filled("printer", self.printer)
        for side in (self.width_mm, self.height_mm):
            if not SHORTEST_MM <= side <= LONGEST_MM:
                raise RecordError(
                    f"The picture measures {self.width_mm:g} × {self.height_mm:g} mm.",
                    remedy=f"Give both from {SHORTEST_MM:g} to {LONGEST_MM:g} mm.",
                )
        for what, sha256 in (
            ("file", self.file_sha256),
            ("record", self.record_sha256),
        ):
            if sha256:
                require_hash(what, sha256)
        if not 1 <= self.copies <= MOST_COPIES:
            raise RecordError(
                f"The entry is of {self.copies} copies.",
                remedy=f"Give 1 to {MOST_COPIES}.",
            )
        if self.ink_ml is not None:
            require_amount("Ink used", self.ink_ml, "ml")
        self._require_cause()

    def _require_cause(self) -> None:
        if self.outcome is Outcome.MISPRINT and not self.cause:
            raise RecordError(
                "The misprint has no cause.",
                remedy='Give one of the journal\'s causes; "other" if none fits.',
            )
        if self.outcome is not Outcome.MISPRINT and (self.cause or self.caught_by):
            raise RecordError(
                f"The print is noted as {self.outcome}, and a cause of misprints or "
                "what would have caught it is given.",
                remedy="Leave its cause, and what would have caught it, empty, or note "
                "it as a misprint.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionNumber:
    """
    One number of an edition, which is never given twice.

    Attributes
    ----------
    title : str
        Of the edition.
    number, size : int
        Number n of N.
    entry_id : int
        The print that it was given to.
    spoiled : str
        Why no sound print bears it; empty if one does.
    """

    title: str
    number: int
    size: int
    entry_id: int
    issued_at: datetime
    spoiled: str = ""

    def __str__(self) -> str:
        return f"{self.number}/{self.size}"


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalEntry:
    """
    An entry as it stands, or stood, in the journal.

    Attributes
    ----------
    entry_id : int
        Rises, and is never used again.
    revision : int
        1 as first noted, higher after each change.
    changed_at : datetime
        When this revision was written.
    why : str
        The reason for the change; empty in the first.
    is_struck : bool
        Struck out: still there, and left out of all counts.
    numbers : tuple of EditionNumber
        Those that its copies bear.
    """

    entry_id: int
    revision: int
    changed_at: datetime
    why: str
    is_struck: bool
    entry: PrintEntry
    numbers: tuple[EditionNumber, ...] = ()
