"""What is noted of one print, and how did it come out?"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import StrEnum
from hashlib import file_digest
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.journal.limits import (
    require_amount,
    require_filled,
    require_hash,
    require_text,
    require_zone,
)
from printplan.spec import LONGEST_MM, SHORTEST_MM

if TYPE_CHECKING:
    from datetime import datetime

    from printplan.record.journal.print_used import Cost, PaperUsed

MOST_COPIES = 10_000
"""More copies in one entry are a slip of the pen. Our choice."""


class Outcome(StrEnum):
    """How a print came out."""

    GOOD = "good"
    MISPRINT = "misprint"
    TRIAL = "trial"


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultPhoto:
    """
    A photograph of the finished print.

    Attributes
    ----------
    path : str
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

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    ResultPhoto
        With its whole path.

    Raises
    ------
    RecordError
        If it cannot be read.
    """
    try:
        with Path(path).open("rb") as file:
            sha256 = file_digest(file, "sha256").hexdigest()
    except (OSError, ValueError) as error:
        raise RecordError(
            f"The photo {path} cannot be read "
            f"({getattr(error, 'strerror', None) or error}).",
            remedy="Check its name and folder, or note the print without a photo.",
        ) from error
    return ResultPhoto(path=str(Path(path).absolute()), sha256=sha256)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintEntry:
    """
    One print, or several copies made together that came out alike.

    Attributes
    ----------
    printed_at : datetime
        With its time zone; kept to the second.
    plan_id : str
        What the plan is called.
    paper, printer : str
        Names in the paper book.
    width_mm, height_mm : float
        The picture on paper.
    outcome : Outcome
    cause : str
        What a misprint was lost to, one of the journal's causes; else empty.
    caught_by : str
        The finding, by its `about`, that would have saved a misprint if heeded; empty
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
    cost : Cost or None
    photo : ResultPhoto or None
    note : str
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
                remedy="Leave cause and caught_by empty, or note it as a misprint.",
            )
