"""How do the prints of several plans come onto one roll or few sheets?"""

from __future__ import annotations

from collections import Counter
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.errors import FitError, RecordError, SpecError
from printplan.media import MediaForm
from printplan.pixels.nested_page import NestedPage, NestedPrint, require_alike
from printplan.record.cost import CostBasis
from printplan.record.paper_book import read_paper_book
from printplan.record.plan_file import open_plan_file, read_plan_file
from printplan.sizing.media_sizes import SAME_MM, media_size_mm, roll_width_mm
from printplan.sizing.nesting.nest import Medium, Nesting, Piece, nest
from printplan.spec import Extent
from printplan.units import MM_PER_INCH, length_words, mm_from_px, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from printplan.media import FeedPath, Stock
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.sizing.nesting.cut_list import Cut
    from printplan.sizing.nesting.nest import Placement
    from printplan.units import LengthUnit

BLADE_CAUTION = (
    "Blades cut deep: cut away from the hand that holds the rule, hold a rule with a "
    "guard, keep fingers out of the blade's way, and close the blade or lock the "
    "trimmer's arm before you let go of it. The maker's sheets of trimmer and blade, "
    "and the rules of your workplace, come before this list."
)
"""The usual one for a list of cuts. Common practice, no source."""

USUAL_GAP_MM = 5.0
"""White between two prints that a trimmer can be set to. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NestWish:
    """
    What is asked of a nesting.

    Attributes
    ----------
    plans : tuple of Path
        Plan files; one that is named twice is printed twice as often.
    copies : tuple of int
        How often each plan is printed; empty for what the plans say.
    on : str
        A roll by its width or a sheet by its name; empty for what the first plan is
        made on.
    gap_mm : float
        White between neighbours.
    straight_cuts : bool
        Whether straight cuts through must free all prints.
    may_turn : bool
        Whether prints may lie turned.
    """

    plans: tuple[Path, ...]
    copies: tuple[int, ...] = ()
    on: str = ""
    gap_mm: float = USUAL_GAP_MM
    straight_cuts: bool = False
    may_turn: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedPrints:
    """
    Prints of open plans, nested.

    Attributes
    ----------
    sheets : dict of str to Sheet
        Of each plan by the name of its piece; they cover picture and border alone.
    paths : dict of str to Path
        The plan files, by the same names.
    medium_name : str
        As it is called.
    currency : str
        Of the cost; empty if not known.
    cost : CostBasis or None
        Of all the paper; None if the paper book knows no price.
    """

    wish: NestWish
    nesting: Nesting
    sheets: dict[str, Sheet]
    paths: dict[str, Path]
    medium_name: str
    cost: CostBasis | None

    @property
    def unit(self) -> LengthUnit:
        """That the first plan's lengths are told in."""
        return next(iter(self.sheets.values())).plan.spec.lengths_in

    def price_words(self, placement: Placement) -> str:
        """The paper that one print is to bear, with its currency; empty if unknown."""
        if self.cost is None or self.cost.paper is None:
            return ""
        price = self.cost.paper * self.nesting.paper_share(placement)
        return f"{price:.2f} {self.cost.currency}".rstrip()

    def page(self, sheet: int) -> NestedPage:
        """
        The file of one sheet, or of the length that is cut off the roll.

        Parameters
        ----------
        sheet : int
            From 1.
        """
        return page_of(self.sheets, self.nesting.on_sheet(sheet), self.page_mm)

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and length of the paper that a file covers."""
        return self.nesting.sheet.right_mm, self.nesting.sheet.bottom_mm


def page_of(
    sheets: dict[str, Sheet],
    placements: Sequence[Placement],
    page_mm: tuple[float, float],
) -> NestedPage:
    """Compose the page of the prints on one sheet."""
    return NestedPage(
        [
            NestedPrint(
                sheet=sheets[it.name],
                left_mm=it.left_mm,
                top_mm=it.top_mm,
                turned=it.turned,
            )
            for it in placements
        ],
        page_mm,
    )


@contextmanager
def open_prints(plans: Sequence[Path]) -> Iterator[tuple[dict[str, Sheet], list[str]]]:
    """
    Open the plans of prints that are to share a file, as long as the block runs.

    Parameters
    ----------
    plans : sequence of Path
        One may be there several times.

    Yields
    ------
    dict of str to Sheet
        By the plan's name; each covers its picture with the border.
    list of str
        Which of them each plan is.

    Raises
    ------
    PrintPlanError
        If a plan cannot be opened, or they differ in what a file has once.
    """
    if not plans:
        raise RecordError(
            "No plan is named.", remedy="Name the plan files of one print or more."
        )
    known: dict[Path, str] = {}
    sheets: dict[str, Sheet] = {}
    names: list[str] = []
    with ExitStack() as stack:
        for path in plans:
            whole = path.absolute()
            if whole not in known:
                alike = sum(it.stem == whole.stem for it in known)
                known[whole] = f"{whole.stem} ({alike + 1})" if alike else whole.stem
                plan_file = read_plan_file(whole).resolved(whole)
                delivery = replace(plan_file.spec.delivery, extent=Extent.PICTURE)
                spec = replace(plan_file.spec, delivery=delivery)
                sheet = open_plan_file(replace(plan_file, spec=spec))
                sheets[known[whole]] = stack.enter_context(_open(sheet))
            names.append(known[whole])
        require_alike(list(sheets.values()))
        yield sheets, names


@contextmanager
def _open(sheet: Sheet) -> Iterator[Sheet]:
    with sheet.master:
        yield sheet


@contextmanager
def open_nested(wish: NestWish) -> Iterator[NestedPrints]:
    """
    Nest the prints of plans; their masters are open as long as the block runs.

    Yields
    ------
    NestedPrints
        Nothing is computed of their pixels.

    Raises
    ------
    PrintPlanError
        If a plan cannot be opened, prints cannot share a file, or do not fit.
    """
    with open_prints(wish.plans) as (sheets, names):
        first = next(iter(sheets.values())).plan
        medium_name, medium, stock = _medium(first, wish.on)
        copies: Counter[str] = Counter()
        asked = wish.copies or [sheets[it].plan.delivery.copies for it in names]
        for name, times in zip(names, asked, strict=True):
            copies[name] += times
        pieces = []
        for name, times in copies.items():
            plan = sheets[name].plan
            wide, high = sheets[name].size_px
            pieces.append(
                Piece(
                    name=name,
                    width_mm=mm_from_px(wide, plan.ppi),
                    height_mm=mm_from_px(high, plan.ppi),
                    copies=times,
                    may_turn=wish.may_turn,
                )
            )
        nesting = nest(
            pieces,
            medium,
            gap_mm=wish.gap_mm,
            straight_cuts=wish.straight_cuts,
            unit=first.spec.lengths_in,
        )
        own = read_paper_book(
            read_plan_file(wish.plans[0]).resolved(wish.plans[0]).book
        )
        yield NestedPrints(
            wish=wish,
            nesting=nesting,
            sheets=sheets,
            paths=dict(zip(names, (it.absolute() for it in wish.plans), strict=True)),
            medium_name=medium_name,
            cost=_cost(nesting, stock, own.currency or ""),
        )


def _medium(plan: PrintPlan, on: str) -> tuple[str, Medium, Stock | None]:
    """What is nested on, and how it is kept."""
    unit = plan.spec.lengths_in
    across_mm, along_mm = plan.layout.in_feed_mm
    is_roll = plan.feed.takes is MediaForm.ROLLS
    if on:
        width_mm = roll_width_mm(on)
        is_roll = width_mm is not None
        across_mm, along_mm = media_size_mm(on) if width_mm is None else (width_mm, 0.0)
    name = on or (
        f"{short_words(unit, across_mm)} roll"
        if is_roll
        else plan.spec.sheet.media_size
    )
    feed = _feed(plan, name, across_mm, along_mm, is_roll=is_roll)
    stock = next(
        (it for it in plan.paper.stock if _is_kept(it, across_mm, along_mm, is_roll)),
        None,
    )
    sheets = None
    if is_roll:
        lengths = [feed.longest_mm]
        if plan.printer.longest_print_mm is not None:
            lengths.append(plan.printer.longest_print_mm)
        if stock is not None and stock.left_m is not None:
            lengths.append(stock.left_m * 1000)
        along_mm = min(lengths)
        if along_mm <= 0:
            raise FitError(
                f"Nothing is left of the {name}.",
                remedy="Put in a new roll, or correct the stock.",
            )
    elif stock is not None:
        sheets = stock.sheets_left
    return (
        name,
        Medium(
            width_mm=across_mm,
            length_mm=along_mm,
            is_roll=is_roll,
            sheets=sheets,
            margins=feed.margins,
            step_mm=MM_PER_INCH / plan.ppi,
        ),
        stock,
    )


def _feed(
    plan: PrintPlan, name: str, across_mm: float, along_mm: float, *, is_roll: bool
) -> FeedPath:
    """The feed path that takes the medium: the plan's own if it does."""
    form = MediaForm.ROLLS if is_roll else MediaForm.SHEETS
    others = (plan.printer.feed(it) for it in plan.setup.feeds)
    for feed in (plan.feed, *others):
        fits = feed.narrowest_mm <= across_mm <= feed.widest_mm
        if feed.takes is form and fits and (is_roll or along_mm <= feed.longest_mm):
            return feed
    raise SpecError(
        f"No feed path of {plan.printer.name} takes {plan.paper.name} as {name}.",
        remedy="Choose a roll or sheet that the printer takes, or write the feed path "
        "into the paper book.",
    )


def _is_kept(stock: Stock, across_mm: float, along_mm: float, is_roll: bool) -> bool:  # noqa: FBT001
    if stock.roll_width_mm is not None:
        return is_roll and abs(stock.roll_width_mm - across_mm) <= SAME_MM
    short, long = media_size_mm(stock.sheet or "")
    return (
        not is_roll
        and abs(short - min(across_mm, along_mm)) <= SAME_MM
        and abs(long - max(across_mm, along_mm)) <= SAME_MM
    )


def _cost(nesting: Nesting, stock: Stock | None, own: str) -> CostBasis | None:
    """All the paper at the price in the paper book."""
    if stock is None or stock.price_each is None:
        return None
    currency = stock.currency or own
    if not nesting.medium.is_roll:
        return CostBasis(
            currency=currency,
            paper_amount=float(nesting.sheets),
            paper_price=stock.price_each,
            source="paper book",
        )
    if stock.roll_length_m is None:
        return None
    return CostBasis(
        currency=currency,
        paper_amount=nesting.used_mm / 1000,
        paper_unit="m",
        paper_price=stock.price_each / stock.roll_length_m,
        source="paper book, by the length cut off",
    )


def straight_cuts(nesting: Nesting, sheet: int) -> tuple[Cut, ...] | None:
    """The cuts that free the prints of a sheet; None if straight ones do not."""
    try:
        return nesting.cuts(sheet)
    except FitError:
        return None


def nesting_words(nested: NestedPrints) -> str:
    """What the medium is, how much of it is used and wasted, and what that costs."""
    nesting, unit = nested.nesting, nested.unit
    used = length_words(unit, nesting.used_mm)
    shortest = "no nesting is shorter" if nesting.is_proven else "the best found"
    if nesting.medium.is_roll:
        left = length_words(unit, nesting.medium.length_mm - nesting.used_mm)
        taken = f"{used} are cut off, {left} are left to print on"
    else:
        sheets = "1 sheet" if nesting.sheets == 1 else f"{nesting.sheets} sheets"
        taken = f"{sheets}, of the last one {used}"
    told = (
        f"On {nested.medium_name}: {taken} ({shortest}). Waste "
        f"{100 * nesting.waste_share:.1f} %."
    )
    if nested.cost is None or nested.cost.paper is None:
        return told
    price = f"{nested.cost.paper:.2f} {nested.cost.currency}".rstrip()
    return f"{told} Paper: {price} ({nested.cost.source})."


def nesting_rows(nested: NestedPrints) -> list[tuple[str, ...]]:
    """Where each print lies and what it is to bear, with a head, for a table."""
    unit = nested.unit
    rows: list[tuple[str, ...]] = [
        (
            "print",
            "size",
            "sheet",
            "from left, top",
            "turned",
            "share of length",
            "paper",
        )
    ]
    for it in nested.nesting.placements:
        size_mm = (it.width_mm, it.height_mm)
        rows.append(
            (
                it.label,
                length_words(unit, *(size_mm[::-1] if it.turned else size_mm)),
                str(it.sheet),
                length_words(unit, it.left_mm, it.top_mm),
                "turned" if it.turned else "",
                length_words(unit, nested.nesting.length_share_mm(it)),
                nested.price_words(it),
            )
        )
    if not any(row[-1] for row in rows[1:]):
        rows = [row[:-1] for row in rows]
    return rows
