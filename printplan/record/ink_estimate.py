"""How much ink will a print take, as the journal's measured prints say?"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from printplan.errors import PrintPlanError, RecordError
from printplan.foreign_file import is_there
from printplan.pixels.ink_load import InkLoad, ink_load
from printplan.record.ink_fit import (
    CONFIDENCE,
    fitted,
    leverage,
    predicted,
    was_measured,
)
from printplan.record.journal.view import read_journal
from printplan.record.studio_folder import JOURNAL_NAME
from printplan.record.toml_reading import value_from_table
from printplan.spec import Delivery

if TYPE_CHECKING:
    from collections.abc import Iterable

    from printplan.media import Paper, Printer
    from printplan.pixels.sheet import Sheet
    from printplan.record.journal.view import JournalView

LEAST_SPARE: Final = 4
"""Measured prints beyond the channels that are learnt from them. Our choice: with
fewer, intervals are wider than three standard deviations."""

LEAST_PRINTS: Final = 4 + LEAST_SPARE
"""Measured prints that an estimate of a colour print wants."""

_MOST_PRINTS: Final = 200
"""The newest that are looked at: heads and inks are changed. Our choice."""

_MOST_UNSEEN: Final = 0.05
"""Of a print's ink, that no measured print used. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InkEstimate:
    """
    Ink that one print takes.

    Attributes
    ----------
    ml, low_ml, high_ml : float or None
        The estimate, and between what nine of ten such prints lie; all None if it is
        not calibrated, the last two if somebody stated it.
    words : str
        By what it is known, or why it is not.
    """

    ml: float | None
    low_ml: float | None = None
    high_ml: float | None = None
    words: str

    @property
    def amount_words(self) -> str:
        """
        The amount with its interval; ``not calibrated`` if there is none.

        Examples
        --------
        >>> InkEstimate(ml=2.514, low_ml=2.2, high_ml=2.83, words="").amount_words
        '2.51 ml (2.20 to 2.83)'
        """
        if self.ml is None:
            return "not calibrated"
        if self.low_ml is None or self.high_ml is None:
            return f"{self.ml:.2f} ml"
        return f"{self.ml:.2f} ml ({self.low_ml:.2f} to {self.high_ml:.2f})"

    def of_copies(self, copies: int) -> InkEstimate:
        """
        The same for several prints of one file.

        Notes
        -----
        The interval is multiplied too: what makes one print of a file take more than
        was reckoned makes its copies do so.
        """

        def times(one: float | None) -> float | None:
            return None if one is None else copies * one

        return replace(
            self,
            ml=times(self.ml),
            low_ml=times(self.low_ml),
            high_ml=times(self.high_ml),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredPrint:
    """
    What a print asked for, and the ink that the printer counted for one copy.

    Attributes
    ----------
    paper, printer : str
        As the book called them when it was noted.
    """

    paper: str
    printer: str
    load: InkLoad
    ml: float


def measured_prints(
    journal: JournalView, printer: Printer
) -> tuple[MeasuredPrint, ...]:
    """
    The prints of a journal whose ink was measured, and whose device values are known.

    Returns
    -------
    tuple of MeasuredPrint
        Of that printer under any of its names, oldest first; misprints and trials
        among them, whose ink went onto paper all the same.

    Raises
    ------
    RecordError
        If the journal cannot be read.
    """
    names = {printer.name, *printer.former_names}
    found: list[MeasuredPrint] = []
    for noted in reversed(journal.entries()):
        entry = noted.entry
        if entry.printer not in names or entry.ink_ml is None:
            continue
        try:
            load = _recorded_load(journal.record_text(noted))
        except PrintPlanError:  # the journal's own check tells of it
            continue
        if load is None:
            continue
        found.append(
            MeasuredPrint(
                paper=entry.paper,
                printer=entry.printer,
                load=load,
                ml=entry.ink_ml / entry.copies,
            )
        )
        if len(found) == _MOST_PRINTS:
            break
    return tuple(reversed(found))


def _recorded_load(text: str) -> InkLoad | None:
    """Of a record's text, that part alone: hundreds of records are read in a row."""
    try:
        table = tomllib.loads(text).get("ink_load")
    except (ValueError, RecursionError) as error:
        raise RecordError(
            "A record in the journal is no TOML.", remedy="Use the record's own file."
        ) from error
    if not isinstance(table, dict):
        return None
    return value_from_table(InkLoad, table, where="ink_load")


def ink_estimate(
    load: InkLoad, measured: Iterable[MeasuredPrint], paper: Paper
) -> InkEstimate:
    """
    Ink of one print, learnt from prints that were measured.

    Parameters
    ----------
    load : InkLoad
        What the print asks for.
    measured : iterable of MeasuredPrint
        Of its printer; see `measured_prints`.
    paper : Paper
        Prints on it alone count if they are enough, else those on any paper.

    Returns
    -------
    InkEstimate
        Not calibrated with fewer than `LEAST_SPARE` prints more than channels, or if
        the print is of colours that none of them had.

    Notes
    -----
    Millilitres per square metre of picture are taken as a sum over mean coverages of
    cyan, magenta, yellow and black, each with a use of its own that is not below 0,
    and errors that are alike per area; see `ink_fit`. A picture without ink takes
    none: what cleaning takes is not a print's.
    """
    of_driver = [it for it in measured if it.load.driver == load.driver]
    names = {paper.name, *paper.former_names}
    on_paper = [it for it in of_driver if it.paper in names]
    estimate = _estimate(load, on_paper, f"on {paper.name}")
    if estimate.ml is None and len(of_driver) > len(on_paper):
        return _estimate(load, of_driver, "on all papers")
    return estimate


def _estimate(load: InkLoad, prints: list[MeasuredPrint], where: str) -> InkEstimate:
    if not prints:
        return _not_calibrated(0, where)
    fit = fitted(
        [np.divide(it.load.solid_m2, it.load.printed_m2) for it in prints],
        [it.ml / it.load.printed_m2 for it in prints],
    )
    if fit.spare < LEAST_SPARE:
        return _not_calibrated(len(prints), where)
    count = _count_words(len(prints), where)
    new = np.divide(load.solid_m2, load.printed_m2)
    if not was_measured(fit, new, most_share=_MOST_UNSEEN):
        return InkEstimate(
            ml=None,
            words=f"not calibrated: {count}, and none had such colours; measure one "
            "that has",
        )
    per_m2, half_m2 = predicted(fit, new)
    ml, half_ml = per_m2 * load.printed_m2, half_m2 * load.printed_m2
    words = f"by {count}; {CONFIDENCE:.0%} of prints lie between"
    if leverage(fit, new) > fit.widest:
        words += "; this one is unlike those that were measured"
    return InkEstimate(
        ml=ml, low_ml=max(0.0, ml - half_ml), high_ml=ml + half_ml, words=words
    )


def _not_calibrated(count: int, where: str) -> InkEstimate:
    return InkEstimate(
        ml=None,
        words=f"not calibrated: {_count_words(count, where)} in the journal, "
        f"{LEAST_PRINTS} are needed",
    )


def _count_words(count: int, where: str) -> str:
    return f"{count or 'no'} measured print{'' if count == 1 else 's'} {where}"


def estimate_in_journal(
    load: InkLoad | None, paper: Paper, printer: Printer, journal: str | Path | None
) -> InkEstimate | None:
    """
    Ink of one print by the measured prints of a journal.

    Parameters
    ----------
    load : InkLoad or None
        None if an outside service prints, or a record of before tells none.
    journal : str, Path or None
        Which need not be there yet.

    Returns
    -------
    InkEstimate or None
        None without a load.

    Raises
    ------
    RecordError
        If the journal is there and cannot be read.
    """
    if load is None:
        return None
    return ink_estimate(load, _measured_in(journal, printer), paper)


def journal_near(book: str | Path) -> Path | None:
    """The journal beside a paper book; None if no book is named."""
    return Path(book).absolute().parent / JOURNAL_NAME if str(book) else None


def ink_ml_of(sheet: Sheet, journal: str | Path | None) -> InkEstimate | None:
    """
    Ink of one print of a sheet by the measured prints of a journal.

    Parameters
    ----------
    journal : str, Path or None
        Which need not be there yet.

    Returns
    -------
    InkEstimate or None
        Its `ml` is None if it is not calibrated. None for a file that an outside
        service prints.

    Raises
    ------
    PrintPlanError
        If journal or picture cannot be read.
    """
    plan = sheet.plan
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return None
    measured = _measured_in(journal, plan.printer)
    if len(measured) <= LEAST_SPARE:  # no channel at all: the picture is not asked
        return _not_calibrated(len(measured), "on all papers")
    load = ink_load(sheet)
    return None if load is None else ink_estimate(load, measured, plan.paper)


def _measured_in(
    journal: str | Path | None, printer: Printer
) -> tuple[MeasuredPrint, ...]:
    if journal is None or not is_there(Path(journal)):
        return ()
    with read_journal(journal) as opened:
        return measured_prints(opened, printer)
