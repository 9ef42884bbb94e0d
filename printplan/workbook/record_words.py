"""What do records, journal and paper book say in plain words?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.record.journal.misprints import CONFIDENCE
from printplan.sharpening.calibration import restore_on, spread_on, with_error
from printplan.shown_text import escape
from printplan.units import LengthUnit, length_words
from printplan.workbook.pictures import Words, table_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.decision_sheet.dialogue import Dialogue
    from printplan.record.journal.entry import JournalEntry, PrintEntry
    from printplan.record.journal.misprints import Rate
    from printplan.record.reprint import Difference


_UNKNOWN = "not known"


def dialogue_words(dialogue: Dialogue) -> Words:
    """What to set where the file is handed to the printer, and what must be off."""
    rows = [(it.what, it.value, it.attribute) for it in dialogue.settings]
    table = table_words(
        rows, head=("what", "set it to", "its name in IPP"), caption=dialogue.heading
    )
    off = "".join(f"<li>{escape(it)}</li>" for it in dialogue.off)
    return Words(
        f"{table.html}<p><b>Off:</b></p><ul>{off}</ul>",
        "\n".join([table.text, "Off:", *dialogue.off]),
    )


def differences_words(
    differences: Sequence[Difference], *, first: str, second: str
) -> Words:
    """
    In what two prints differ, side by side.

    Parameters
    ----------
    first, second : str
        Names of the two prints.
    """
    if not differences:
        same = "The two records are the same."
        return Words(f"<p>{same}</p>", same)
    rows = [(it.what, it.first, it.second) for it in differences]
    return table_words(
        rows, head=("what", first, second), caption="In what the two prints differ"
    )


def taught_words(sheet: Sheet, *, before: PrintPlan) -> Words:
    """
    What the paper book learned of a paper since, and how the sharpening changed.

    Parameters
    ----------
    before : PrintPlan
        Of the same print, when nothing had been learned yet.

    Returns
    -------
    Words
        What to press first, if nothing was written into the book.
    """
    now = sheet.plan
    if (before.paper, before.setup) == (now.paper, now.setup):
        nothing = (
            "Nothing was written into the paper book since. Read a scan, or pick a "
            'patch, and press "Write into the paper book" in the trial sheet\'s panel.'
        )
        return Words(f"<p>{escape(nothing)}</p>", nothing)
    names = ("", "spread (µm)", "restore picked", "sharpening")
    rows = list(zip(names, _known("before", before), _known("now", now), strict=True))
    table = table_words(rows[1:], head=rows[0])
    known = spread_on(now.paper, now.setup).words
    return Words(f"{table.html}<p>{escape(known)}</p>", f"{table.text}\n{known}")


def _known(when: str, plan: PrintPlan) -> tuple[str, ...]:
    """Spread, pick and sharpening of a plan."""
    spread, pick = spread_on(plan.paper, plan.setup), restore_on(plan.setup)
    sigma, error = spread.sigma_um, spread.uncertainty_um
    sharpen = plan.spec.sharpen
    return (
        when,
        f"{sigma:.0f}, estimated" if error is None else with_error(sigma, error),
        "none" if pick is None else f"{pick.value:.2f} ± {pick.spread:.2f}",
        f"gain {sharpen.gain:.2f}, {sharpen.blur_words}",
    )


def entry_words(entry: PrintEntry, unit: LengthUnit = LengthUnit.MM) -> Words:
    """One print as the journal would note it."""
    paper = ("paper used", _UNKNOWN)
    if entry.paper_used is not None:
        paper = (f"{entry.paper_used.unit} used", f"{entry.paper_used.amount:g}")
    cost = _UNKNOWN
    if entry.cost is not None:
        cost = f"{entry.cost.amount} {entry.cost.currency}: {entry.cost.basis}"
    rows = [
        ("printed at", moment_words(entry.printed_at)),
        ("plan", entry.plan_id),
        ("on", f"{entry.paper}, {entry.printer}"),
        ("picture", length_words(unit, entry.width_mm, entry.height_mm)),
        ("outcome", outcome_words(entry)),
        ("copies", str(entry.copies)),
        paper,
        ("ink used", _UNKNOWN if entry.ink_ml is None else f"{entry.ink_ml:g} ml"),
        ("cost", cost),
        ("note", entry.note or "none"),
    ]
    return table_words(rows, caption="The entry")


def entries_words(entries: Sequence[JournalEntry], *, heading: str) -> Words:
    """
    Prints in a table, in the order that they are given in.

    Parameters
    ----------
    heading : str
        What they are.
    """
    head = ("printed at", "print", "outcome", "cost")
    return table_words(map(_row, entries), head=head, caption=heading, breaks=False)


def rate_words(rate: Rate) -> str:
    """How many prints were lost, and how surely the counts say so."""
    if rate.share is None:
        return "No print is noted yet, trials aside."
    return (
        f"{rate.lost} of {rate.prints} prints were lost, {rate.share:.1%}; the counts "
        f"allow a true share of {rate.low:.1%} to {rate.high:.1%} (Wilson interval, "
        f"{CONFIDENCE:.0%}). Trials are left out."
    )


def rates_words(rates: Mapping[str, Rate], *, heading: str) -> Words:
    """
    Shares of all prints in a table, with their intervals.

    Parameters
    ----------
    rates : mapping of str to Rate
        By cause, paper or finding; the empty name is that of no finding.
    heading : str
        What they are.
    """
    rows = [
        (
            name or "no finding",
            f"{rate.lost} of {rate.prints}",
            "" if rate.share is None else f"{rate.share:.1%}",
            f"{rate.low:.1%} to {rate.high:.1%}",
        )
        for name, rate in rates.items()
    ]
    head = ("what", "prints", "share", f"Wilson interval, {CONFIDENCE:.0%}")
    return table_words(rows, head=head, caption=heading)


def outcome_words(entry: PrintEntry) -> str:
    """How a print came out, and what it was lost to."""
    words = f"{entry.outcome}: {entry.cause}" if entry.cause else str(entry.outcome)
    if entry.caught_by:
        words += f' (the finding "{entry.caught_by}" had said so)'
    return words


def moment_words(moment: datetime) -> str:
    """A moment as the printer's own clock had it."""
    return f"{moment.day} {moment:%b %Y, %H:%M}"


def _row(kept: JournalEntry) -> tuple[str, ...]:
    entry, numbers = kept.entry, ", ".join(str(number) for number in kept.numbers)
    parts = [entry.plan_id, entry.paper]
    if entry.copies > 1:
        parts.append(f"{entry.copies} copies")
    if numbers:
        parts.append(f"no. {numbers}")
    return (
        moment_words(entry.printed_at),
        ", ".join(parts),
        outcome_words(entry),
        ""
        if entry.cost is None
        else f"{entry.cost.amount}\N{NO-BREAK SPACE}{entry.cost.currency}",
    )
