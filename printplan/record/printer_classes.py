"""Which values does a printer of a class begin with, until somebody knows better?"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from printplan.media import FeedPath, Margins, MediaForm, Printer
from printplan.record.printer_draft import PrinterDraft, SaidBy
from printplan.units import mm_from_inches


class PrinterClass(StrEnum):
    """Kinds of printers by what goes into them."""

    A3_PLUS = "sheets up to A3+"
    INCH_17 = "sheets up to 17 in"
    ROLL_24 = "rolls of 24 in"
    ROLL_44 = "rolls of 44 in"


class _Size(NamedTuple):
    """What the largest paper of a class is."""

    widest_in: float
    longest_sheet_mm: float
    takes_rolls: bool


# Widths are those of the classes' names: A3+ is 13 in wide. Sheets are as long as the
# largest that is commonly cut for that width: 13x19 in, 17x22 in, 24x36 in, 44x60 in.
# Common practice, no source.
_SIZES = {
    PrinterClass.A3_PLUS: _Size(13, mm_from_inches(19), takes_rolls=False),
    PrinterClass.INCH_17: _Size(17, mm_from_inches(22), takes_rolls=False),
    PrinterClass.ROLL_24: _Size(24, mm_from_inches(36), takes_rolls=True),
    PrinterClass.ROLL_44: _Size(44, mm_from_inches(60), takes_rolls=True),
}

_NARROWEST_SHEET_MM, _SHORTEST_SHEET_MM = 89.0, 127.0
"""3.5x5 in, the smallest photographic sheet. Common practice, no source."""

_NARROWEST_THICK_MM, _SHORTEST_THICK_MM = 203.2, 254.0
"""8x10 in: boards are guided from there on. Our choice."""

_NARROWEST_ROLL_MM = 203.2
_LONGEST_ROLL_MM = 15_000.0
"""As long as rolls of photographic paper are sold; a driver may take less. Common
practice, no source."""

# Our choice: rather too wide than too narrow. A margin that is given too wide costs
# paper, one that is given too narrow costs the picture's edge.
_FEEDER_MARGINS = Margins(leading_mm=5.0, trailing_mm=15.0, left_mm=5.0, right_mm=5.0)
_THICK_MARGINS = Margins(leading_mm=25.0, trailing_mm=25.0, left_mm=5.0, right_mm=5.0)
_ROLL_MARGINS = Margins(leading_mm=5.0, trailing_mm=5.0, left_mm=5.0, right_mm=5.0)

# Our choice: feeders bend the sheet, straight paths take board of some 1.2 mm.
_FEEDER_UM = (80.0, 300.0)
_THICK_UM = (200.0, 1200.0)
_ROLL_UM = (80.0, 500.0)

_INPUT_PPI = (300.0, 360.0, 600.0, 720.0)
"""Heads have steps of 1/300 or 1/360 in, or half of that. Common practice, no
source: which of the two families it is, the printer's manual says."""

_BLACK_INKS = ("photo black", "matte black")


def draft_of_class(kind: PrinterClass, name: str = "") -> PrinterDraft:
    """
    Starting values for a printer.

    Parameters
    ----------
    name : str, optional
        What the person calls it; the class's own name without one.

    Returns
    -------
    PrinterDraft
        All of it our choice, but for a name that is given.

    Examples
    --------
    >>> draft = draft_of_class(PrinterClass.ROLL_24, "the tall one")
    >>> [feed.name for feed in draft.printer.feeds]
    ['sheet feeder', 'straight path', 'roll']
    >>> draft.printer.feeds[2].margins_source
    'our choice, check with the test page'
    """
    size = _SIZES[kind]
    widest_mm = mm_from_inches(size.widest_in)
    feeds = [
        FeedPath(
            name="sheet feeder",
            margins=_FEEDER_MARGINS,
            shortest_mm=_SHORTEST_SHEET_MM,
            longest_mm=size.longest_sheet_mm,
            narrowest_mm=_NARROWEST_SHEET_MM,
            widest_mm=widest_mm,
            thinnest_um=_FEEDER_UM[0],
            thickest_um=_FEEDER_UM[1],
        ),
        FeedPath(
            name="straight path",
            margins=_THICK_MARGINS,
            shortest_mm=_SHORTEST_THICK_MM,
            longest_mm=size.longest_sheet_mm,
            narrowest_mm=_NARROWEST_THICK_MM,
            widest_mm=widest_mm,
            thinnest_um=_THICK_UM[0],
            thickest_um=_THICK_UM[1],
        ),
    ]
    if size.takes_rolls:
        feeds.append(
            FeedPath(
                name="roll",
                takes=MediaForm.ROLLS,
                margins=_ROLL_MARGINS,
                shortest_mm=_SHORTEST_SHEET_MM,
                longest_mm=_LONGEST_ROLL_MM,
                narrowest_mm=_NARROWEST_ROLL_MM,
                widest_mm=widest_mm,
                thinnest_um=_ROLL_UM[0],
                thickest_um=_ROLL_UM[1],
            )
        )
    printer = Printer(
        name=name.strip() or f"Printer for {kind}",
        black_inks=_BLACK_INKS,
        feeds=tuple(feeds),
        input_ppi=_INPUT_PPI,
    )
    return PrinterDraft(
        printer=printer, said={"name": SaidBy.TYPED} if name.strip() else {}
    )


def class_for(widest_mm: float, *, takes_rolls: bool = False) -> PrinterClass:
    """
    The smallest class that a printer goes into, by its widest paper.

    Parameters
    ----------
    takes_rolls : bool, optional
        Whether it takes rolls.

    Returns
    -------
    PrinterClass
        The largest for what is wider than all.

    Examples
    --------
    >>> class_for(329), class_for(420), class_for(1118)
    (<PrinterClass.A3_PLUS: 'sheets up to A3+'>, <PrinterClass.INCH_17: \
'sheets up to 17 in'>, <PrinterClass.ROLL_44: 'rolls of 44 in'>)
    """
    for kind, size in _SIZES.items():
        # Printers tell edges in whole hundredths of a millimetre, or whole millimetres.
        fits = widest_mm <= mm_from_inches(size.widest_in) + 1.0
        if fits and (size.takes_rolls or not takes_rolls):
            return kind
    return PrinterClass.ROLL_44
