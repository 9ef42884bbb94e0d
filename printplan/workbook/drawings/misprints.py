"""How many prints were lost each month, and what did each cause cost?"""

from __future__ import annotations

from calendar import month_abbr
from decimal import Decimal
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.record.journal.misprints import (
    CONFIDENCE,
    before_after,
    is_after,
    rates_by_month,
    waste_by_cause,
)
from printplan.workbook.drawings.page import (
    FIELD,
    INK,
    LINES,
    NARROW_CSS_PX,
    SMALL_PT,
    dress_axes,
    new_page,
    title,
    write_legend,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from printplan.record.journal.entry import JournalEntry
    from printplan.record.journal.misprints import BeforeAfter, Rate, RateFall, Waste

_MONTHS_CSS_PX, _ROW_CSS_PX = 270, 30
_BEFORE, _AFTER = LINES[1], LINES[2]


def draw_month_rates(
    months: Mapping[date, Rate], parts: BeforeAfter, axes: Axes
) -> Axes:
    """
    Share of prints lost in each month, with its interval, before a day and after.

    Parameters
    ----------
    months : mapping of date to Rate
        By the first of the month, without a gap; as `rates_by_month` gives them.
    parts : BeforeAfter
        The shaded bands.
    axes : Axes
        With room below for two lines.
    """
    dress_axes(axes, x_label="month, and prints made in it", y_label="prints lost (%)")
    names = list(months)
    split = _place(parts.since, names)
    spans = (
        (_BEFORE, parts.before, "before", -0.5, split),
        (_AFTER, parts.after, "since", split, len(names) - 0.5),
    )
    for style, part, word, left, right in spans:
        if part.share is None:
            continue
        axes.fill_between(
            [left, right],
            100 * part.low,
            100 * part.high,
            color=style.colour,
            alpha=0.22,
            linewidth=0,
        )
        axes.plot(
            [left, right],
            [100 * part.share] * 2,
            color=style.colour,
            linewidth=1.6,
            label=f"{word}: {part.lost} of {part.prints}, {part.share:.1%}",
        )
    for place, (month, rate) in enumerate(months.items()):
        if rate.share is None:
            continue
        style = _BEFORE if place < split else _AFTER
        axes.plot(
            [place, place], [100 * rate.low, 100 * rate.high], color=INK, linewidth=1.4
        )
        axes.plot(
            place,
            100 * rate.share,
            style.marker,
            color=style.colour,
            markeredgecolor=INK,
            markersize=7,
            clip_on=False,
            zorder=5,
            gid=f"{month:%Y-%m}",
        )
    axes.axvline(split, color=INK, linewidth=1.0, linestyle=(0, (4, 3)))
    axes.set_xlim(-0.5, len(names) - 0.5)
    highest = max((rate.high for rate in months.values() if rate.prints), default=1.0)
    axes.set_ylim(0, min(100.0, 108 * highest))
    axes.set_xticks(
        range(len(names)),
        [_month_words(month, rate, names[0]) for month, rate in months.items()],
    )
    axes.grid(visible=False, axis="x")
    write_legend(axes, "upper right")
    return axes


def draw_cause_costs(
    before: Mapping[str, Waste], after: Mapping[str, Waste], currency: str, axes: Axes
) -> Axes:
    """
    What each cause of misprints cost, the dearest first.

    Parameters
    ----------
    before, after : mapping of str to Waste
        By cause, as `waste_by_cause` gives it of each part.
    currency : str
        Three letters; what was paid in others is not drawn.
    axes : Axes
        With room to the left for the causes.
    """
    dress_axes(axes, x_label=f"cost of prints lost ({currency})", y_label="")
    parts = [(_BEFORE, "", "before", before), (_AFTER, "///", "since", after)]

    def cost(cause: str) -> float:
        return sum(_cost(part, cause, currency) for *_, part in parts)

    causes = sorted({*before, *after}, key=lambda cause: (-cost(cause), cause))
    rows = range(len(causes))
    left = [0.0] * len(causes)
    for style, hatch, word, part in parts:
        lengths = [_cost(part, cause, currency) for cause in causes]
        axes.barh(
            rows,
            lengths,
            left=left,
            height=0.6,
            color=style.colour,
            edgecolor=FIELD,
            hatch=hatch,
            label=word,
        )
        left = [end + length for end, length in zip(left, lengths, strict=True)]
    for row, cause in enumerate(causes):
        axes.annotate(
            _waste_words(
                [part[cause] for *_, part in parts if cause in part], currency
            ),
            (left[row], row),
            xytext=(6, 0),
            textcoords="offset points",
            verticalalignment="center",
            color=INK,
            fontsize=SMALL_PT,
        )
    axes.set_yticks(rows, causes)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(max(len(causes), 1) - 0.4, -0.6)
    # Words stand behind the bars, inside the field.
    axes.set_xlim(0, 1.5 * max(left, default=0.0) or 1.0)
    axes.grid(visible=False, axis="y")
    if causes:
        write_legend(axes, "lower right")
    return axes


def misprint_words(parts: BeforeAfter) -> str:
    """What the counts say, and what they do not."""
    day = f"{parts.since.day} {parts.since:%B %Y}"
    words = (
        f"Before {day}: {_rate_words(parts.before)}. Since then: "
        f"{_rate_words(parts.after)}."
    )
    if parts.fall is not None:
        words += f" {_fall_words(parts.fall)}"
    lost = [
        f"{_money(waste.cost)} {when}"
        for waste, when in (
            (parts.waste_before, "before"),
            (parts.waste_after, "since"),
        )
        if waste.cost
    ]
    if lost:
        words += f" Misprints cost {' and '.join(lost)}."
    unknown = parts.waste_before.prints_without_cost
    unknown += parts.waste_after.prints_without_cost
    if unknown:
        words += f" The cost of {unknown} of them is not known and not in it."
    return words


def misprints_figure(
    entries: Iterable[JournalEntry], since: date, *, heading: str
) -> Figure:
    """
    Misprints by month round a day of change, and the causes with what they cost.

    Parameters
    ----------
    since : date
        First day of the second part.
    heading : str
        Whose journal it is.

    Raises
    ------
    SpecError
        If there is no print in the journal.
    """
    kept = list(entries)
    months = rates_by_month(kept)
    if not months:
        raise SpecError(
            "There is no print in the journal, trials aside.",
            remedy="Note a print first, then draw again.",
        )
    parts = before_after(kept, since)
    before, after = (
        waste_by_cause(it for it in kept if is_after(it, since) is part)
        for part in (False, True)
    )
    causes = {*before, *after}
    currency = _commonest_currency([*before.values(), *after.values()])
    rows_px = _ROW_CSS_PX * max(1, len(causes))
    figure = new_page(
        NARROW_CSS_PX,
        _MONTHS_CSS_PX + rows_px + 190,
        "",
        f"{misprint_words(parts)} {_NOTE}",
    )
    above, below = figure.subplots(2, height_ratios=[_MONTHS_CSS_PX, rows_px])
    draw_month_rates(months, parts, above)
    draw_cause_costs(before, after, currency, below)
    title(above, f"Prints lost, {heading}")
    title(below, "What each cause cost")
    return figure


_NOTE = (
    f"Whiskers and bands: Wilson score intervals, {CONFIDENCE:.0%}. Trials are left "
    "out. That two parts differ does not say why: more than one thing may have changed."
)


def _place(day: date, months: list[date]) -> float:
    """Where a day lies on an axis with a whole number at each month's middle."""
    first = months[0]
    whole = (day.year - first.year) * 12 + day.month - first.month
    return min(max(whole + (day.day - 1) / 31 - 0.5, -0.5), len(months) - 0.5)


def _month_words(month: date, rate: Rate, first: date) -> str:
    name = month_abbr[month.month]
    if month == first or month.month == 1:
        name += f" {month.year}"
    return f"{name}\n{rate.prints}"


def _rate_words(rate: Rate) -> str:
    if rate.share is None:
        return "no prints"
    return (
        f"{rate.lost} of {rate.prints} prints lost, {rate.share:.1%} (the counts allow "
        f"{rate.low:.1%} to {rate.high:.1%})"
    )


def _fall_words(fall: RateFall) -> str:
    if fall.low <= 0 <= fall.high:
        return "The counts do not tell whether the share changed."
    verb = "fell" if fall.fall > 0 else "rose"
    low, high = sorted((abs(fall.low), abs(fall.high)))
    return (
        f"The share {verb} by {100 * abs(fall.fall):.1f} points ({100 * low:.1f} to "
        f"{100 * high:.1f})."
    )


def _cost(part: Mapping[str, Waste], cause: str, currency: str) -> float:
    return float(part[cause].cost.get(currency, 0)) if cause in part else 0.0


def _waste_words(wasted: Sequence[Waste], currency: str) -> str:
    prints = sum(waste.prints for waste in wasted)
    unknown = sum(waste.prints_without_cost for waste in wasted)
    words = f"{prints} print{'s' if prints > 1 else ''}"
    if unknown < prints:
        cost = sum(waste.cost.get(currency, Decimal(0)) for waste in wasted)
        words += f", {cost:.2f}"
    if unknown:
        words += f", cost of {unknown} not known"
    return words


def _money(cost: Mapping[str, Decimal]) -> str:
    return " + ".join(f"{amount:.2f} {currency}" for currency, amount in cost.items())


def _commonest_currency(wasted: Iterable[Waste]) -> str:
    found = [currency for waste in wasted for currency in waste.cost]
    return max(sorted(set(found)), key=found.count, default="cost not known")
