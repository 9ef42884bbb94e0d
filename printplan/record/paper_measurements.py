"""How are measurements of prints saved in the paper book, and deleted again?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printplan.errors import RecordError, Setting, SpecError, did_you_mean
from printplan.measurements import RestorePick, SpreadReading
from printplan.record.book_changes import change_paper

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    from printplan.media import Paper, PaperOnPrinter
    from printplan.sharpening.calibration import RestoreTrial
    from printplan.sharpening.paper_spread import SpreadFit


_DIGITS = 4
"""A scan knows a response to three digits or so; more only fill the book. Our choice.
"""


def save_spread_reading(  # noqa: PLR0913 - each is a fact of the reading
    book_path: str | Path,
    paper_name: str,
    printer_name: str,
    fit: SpreadFit,
    *,
    on: date,
    scan_ppi: float,
    note: str = "",
    includes_scanner: bool = False,
    edges_left_out: bool = False,
) -> Paper:
    """
    Save what a scan measured of the spread with the paper and printer.

    Parameters
    ----------
    book_path : str or Path
        The paper book.
    paper_name, printer_name : str
        As the book calls them.
    fit : SpreadFit
        From `fit_spread` or `measure_spread`.
    on : datetime.date
        Day of the measurement.
    scan_ppi : float
        Resolution of the scan.
    note : str, optional
        What a person should know about it.
    includes_scanner : bool, optional
        Says that the scanner's own spread is in the fit though it does not say so
        itself: the reference given was not that of the scanner.
    edges_left_out : bool, optional
        Permits a fit that could not use every edge; the reason is added to the note.

    Returns
    -------
    Paper
        As the book now holds it, for `spread_on`.

    Raises
    ------
    SpecError
        If edges were left out of the fit, or a value leaves its range.
    RecordError
        If the book does not hold the paper or the pair, or cannot be changed.

    Notes
    -----
    Whether the scanner's own spread is in it is saved as the fit says; `spread_on`
    takes such a reading for a bound only.

    The same reading is saved once, with its newest note: a notebook that runs again
    adds nothing.
    """
    if fit.unfit_reason and not edges_left_out:
        raise SpecError(
            f"This reading is not sound as it is: {fit.unfit_reason}",
            remedy="Clean glass and print and scan again; or, if those edges are known "
            f"to be damaged and {fit.n_edges} are enough, permit it.",
            setting=Setting.EDGES_LEFT_OUT,
        )
    reading = SpreadReading(
        on=on,
        sigma_um=_short(fit.sigma_um),
        uncertainty_um=_short(fit.uncertainty_um),
        edges=fit.n_edges,
        scan_ppi=scan_ppi,
        cycles_per_mm=tuple(map(_short, fit.curve.cycles_per_mm)),
        contrast_left=tuple(map(_short, fit.curve.values)),
        note=" ".join(filter(None, (note, fit.unfit_reason))),
        includes_scanner=fit.includes_scanner or includes_scanner,
    )

    def with_reading(pair: PaperOnPrinter) -> PaperOnPrinter:
        scans = [replace(it, note=reading.note) for it in pair.spread_readings]
        if reading not in scans:
            return replace(pair, spread_readings=(*pair.spread_readings, reading))
        readings = list(pair.spread_readings)
        readings[scans.index(reading)] = reading
        return replace(pair, spread_readings=tuple(readings))

    return _change_pair(book_path, paper_name, printer_name, with_reading)


def save_restore_pick(  # noqa: PLR0913 - each is a fact of the pick
    book_path: str | Path,
    paper_name: str,
    printer_name: str,
    trial: RestoreTrial,
    *,
    on: date,
    distance_mm: float | None = None,
    note: str = "",
) -> Paper:
    """
    Save which patch of a trial sheet looked best with the paper and printer.

    Parameters
    ----------
    book_path : str or Path
        The paper book.
    paper_name, printer_name : str
        As the book calls them.
    on : datetime.date
        Day of the pick.
    distance_mm : float, optional
        Distance it was looked at from.
    note : str, optional
        Tells two equal picks of one day apart, such as the second viewer's.

    Returns
    -------
    Paper
        As the book now holds it, for `restore_on`.

    Raises
    ------
    SpecError
        If a value leaves its range.
    RecordError
        If the book does not hold the paper or the pair, or cannot be changed.

    Notes
    -----
    The same pick, note included, is saved once: a notebook that runs again adds
    nothing.
    """
    pick = RestorePick(
        on=on,
        offered=trial.offered,
        picked=trial.picked,
        distance_mm=distance_mm,
        note=note,
    )

    def with_pick(pair: PaperOnPrinter) -> PaperOnPrinter:
        if pick in pair.restore_picks:
            return pair
        return replace(pair, restore_picks=(*pair.restore_picks, pick))

    return _change_pair(book_path, paper_name, printer_name, with_pick)


def delete_measurement(
    book_path: str | Path,
    paper_name: str,
    printer_name: str,
    measurement: SpreadReading | RestorePick,
) -> Paper:
    """
    Delete a wrong reading or pick from the paper book.

    Parameters
    ----------
    book_path : str or Path
        The paper book.
    paper_name, printer_name : str
        As the book calls them.
    measurement : SpreadReading or RestorePick
        Out of the pair's own; deleting its table in the book by hand does the same.

    Returns
    -------
    Paper
        As the book now holds it.

    Raises
    ------
    RecordError
        If the pair does not hold this measurement, or the book cannot be changed.
    """

    def without(pair: PaperOnPrinter) -> PaperOnPrinter:
        readings = tuple(it for it in pair.spread_readings if it != measurement)
        picks = tuple(it for it in pair.restore_picks if it != measurement)
        if (readings, picks) == (pair.spread_readings, pair.restore_picks):
            others: list[SpreadReading | RestorePick] = [*readings, *picks]
            days = ", ".join(sorted({str(other.on) for other in others}))
            raise RecordError(
                f'"{paper_name}" on "{printer_name}" has no such measurement of '
                f"{measurement.on}.",
                remedy="Read the paper book again, and give one of its own; it has "
                f"{f'some of {days}' if days else 'none'}.",
            )
        return replace(pair, spread_readings=readings, restore_picks=picks)

    return _change_pair(book_path, paper_name, printer_name, without)


def _change_pair(
    book_path: str | Path,
    paper_name: str,
    printer_name: str,
    change: Callable[[PaperOnPrinter], PaperOnPrinter],
) -> Paper:
    """Change a paper's settings on one printer, from what they are now."""

    def changed(paper: Paper) -> Paper:
        printers = [pair.printer for pair in paper.on_printer]
        if printer_name not in printers:
            raise RecordError(
                f'"{paper_name}" has no settings for the printer "{printer_name}".',
                remedy=did_you_mean(printer_name, printers)
                if printers
                else "Add them to the paper book, with the profile made for this pair.",
            )
        pairs = (
            change(pair) if pair.printer == printer_name else pair
            for pair in paper.on_printer
        )
        return replace(paper, on_printer=tuple(pairs))

    return change_paper(book_path, paper_name, changed)


def _short(number: float) -> float:
    """The number as people would write it down."""
    return float(f"{number:.{_DIGITS}g}")
