"""How is one master planned in several sizes and on several papers?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING

from printplan.errors import FitError, PrintPlanError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.master_measures import master_measures
from printplan.pixels.sharpening_spec import NEAREST_MM, usual_distance_mm
from printplan.plan import resolve
from printplan.record.cost import planned_paper
from printplan.record.job import JobWish, plan_job, write_job
from printplan.record.paper_book import read_paper_book
from printplan.sizing.largest_size import largest_at_diagonal_mm, largest_length_mm
from printplan.sizing.print_size import acuity_ppi
from printplan.units import length_words, short_words

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from printplan.pixels.master import Master
    from printplan.plan import PrintPlan
    from printplan.record.job import Planned
    from printplan.record.paper_book import PaperBook
    from printplan.spec import MasterSpec
    from printplan.units import LengthUnit


_HEAD = (
    "size",
    "paper",
    "sheet",
    "ppi of the master / that the eye resolves",
    "ppi of the file",
    "distance",
    "restore",
    "gain",
    "radius",
    "paper cost",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyWish:
    """
    One master in several sizes.

    Attributes
    ----------
    longest_mm : tuple of float
        Longest edges of the pictures.
    papers : tuple of str
        Each size on each of them; empty for the only paper in use.
    printer : str
        Empty for the only one in use.
    distance_mm : float or None
        Eye to print, of all; None for what is usual at each size.
    least_ppi : float
        The master's own pixels per inch that every print is to have, whatever the
        distance; 0 for none.
    """

    master: MasterSpec
    longest_mm: tuple[float, ...]
    papers: tuple[str, ...] = ()
    printer: str = ""
    distance_mm: float | None = None
    least_ppi: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """
    One print of a family.

    Attributes
    ----------
    longest_mm : float
        As asked.
    paper : str
        As asked; empty if none was named.
    planned : Planned or None
        None where no such print can be made.
    plan : PrintPlan or None
        What comes of it.
    own_ppi : float
        The master's own pixels per inch of paper, an earlier enlargement taken off.
    is_good : bool
        Whether these are enough for the eye, and for the least asked for.
    cost : str
        Of the paper, as the paper book has it; empty if it does not say.
    problem : PrintPlanError or None
        Why it cannot be made.
    """

    longest_mm: float
    paper: str
    planned: Planned | None = None
    plan: PrintPlan | None = None
    own_ppi: float = 0.0
    is_good: bool = False
    cost: str = ""
    problem: PrintPlanError | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """
    The prints of a family, and how large one could be.

    Attributes
    ----------
    members : tuple of Member
        By size, then in the order of the papers.
    own_share : float
        Share of the master's pixels along an edge that holds detail.
    largest_mm : float
        Longest edge at which these are enough, at the distance asked for, or at each
        print's diagonal; infinite where they are enough at any size.
    distance_mm : float or None
        As asked.
    """

    members: tuple[Member, ...]
    own_share: float
    largest_mm: float
    distance_mm: float | None
    unit: LengthUnit

    @property
    def largest_words(self) -> str:
        """How large a good print of this master can be, in a sentence."""
        share = ""
        if self.own_share < 1:
            share = (
                f" It was enlarged before: {self.own_share:.0%} of its pixels along "
                "an edge hold detail."
            )
        seen = "its diagonal"
        if self.distance_mm is not None:
            seen = short_words(self.unit, self.distance_mm)
        if self.largest_mm == inf:
            return f"Seen from {seen} this master has pixels enough at any size.{share}"
        largest = length_words(self.unit, self.largest_mm)
        return (
            f"Largest good print, seen from {seen}: {largest} along its longest edge, "
            f"by one pixel an arcminute (ISO 8596, acuity 1.0).{share}"
        )


def plan_family(
    book_path: str | Path,
    wish: FamilyWish,
    report: Callable[[str], None] = lambda _: None,
) -> Family:
    """
    Plan one master in several sizes, each sharpened and converted for itself.

    Returns
    -------
    Family
        Nothing is written. A member that cannot be made says why, and the others are
        planned all the same.

    Raises
    ------
    PrintPlanError
        If no size is asked for, or book or master cannot be read.
    """
    if not wish.longest_mm:
        raise SpecError("No size is asked for.", remedy="Give one size or more.")
    book = read_paper_book(book_path)
    master = open_master(
        wish.master.file,
        assume_profile=wish.master.assume_profile,
        alpha=wish.master.alpha,
    )
    with master:
        enlargement = master_measures(master).enlargement
        share = 1.0 if enlargement is None else 1 / enlargement.factor
        members = []
        for longest_mm in sorted(set(wish.longest_mm)):
            for paper in wish.papers or ("",):
                told = length_words(book.lengths_in, longest_mm)
                report(f"Planning {told}{f' on {paper}' if paper else ''}.")
                asked = Member(longest_mm=longest_mm, paper=paper)
                members.append(_planned(book_path, book, wish, asked, master, share))
        largest_mm = _largest_mm(master, wish, share)
    return Family(
        members=tuple(members),
        own_share=share,
        largest_mm=largest_mm,
        distance_mm=wish.distance_mm,
        unit=book.lengths_in,
    )


def write_family(family: Family, folder: str | Path) -> tuple[Path, ...]:
    """
    Write the plans of a family into a folder of jobs, each under a name of its size.

    Returns
    -------
    tuple of Path
        Of the members that can be made, in their order.

    Raises
    ------
    RecordError
        If one cannot be written.
    """
    paths = []
    for member in family.members:
        if member.planned is not None:
            size = f"{member.longest_mm:.0f}mm"
            paths.append(write_job(member.planned, folder, also=size))
    return tuple(paths)


def family_rows(family: Family) -> list[tuple[str, ...]]:
    """
    A family as a table.

    Returns
    -------
    list of tuple of str
        The head first. The master's own resolution on paper stands beside what the
        eye resolves from the distance, at acuity 1.0.
    """
    rows: list[tuple[str, ...]] = [_HEAD]
    for it in family.members:
        if it.plan is None:
            told = length_words(family.unit, it.longest_mm)
            rows.append((told, it.paper, "cannot be made", *("",) * 7))
            continue
        plan, sharpen = it.plan, it.plan.spec.sharpen
        distance_mm = sharpen.distance_mm or usual_distance_mm(plan)
        rows.append(
            (
                length_words(family.unit, *plan.trimmed_mm),
                plan.paper.name,
                plan.spec.sheet.media_size,
                f"{it.own_ppi:.0f} / {acuity_ppi(distance_mm):.0f}",
                f"{plan.ppi:g}",
                length_words(family.unit, distance_mm),
                "by hand" if sharpen.restore is None else f"{sharpen.restore:.2f}",
                f"{sharpen.gain:.2f}",
                f"{sharpen.radius_mm:.3f} mm",
                it.cost or "not known",
            )
        )
    return rows


def family_problems(family: Family) -> list[str]:
    """Why members cannot be made, a line for each."""
    return [
        f"{length_words(family.unit, it.longest_mm)} {it.paper}: {it.problem}"
        for it in family.members
        if it.problem is not None
    ]


def _planned(  # noqa: PLR0913, PLR0917 - all that one member follows from
    book_path: str | Path,
    book: PaperBook,
    wish: FamilyWish,
    asked: Member,
    master: Master,
    share: float,
) -> Member:
    job = JobWish(
        master=wish.master,
        paper=asked.paper,
        printer=wish.printer,
        longest_mm=asked.longest_mm,
        distance_mm=wish.distance_mm,
    )
    try:
        planned = plan_job(book_path, job)
    except (FitError, SpecError) as error:
        return replace(asked, problem=error)
    file = planned.plan_file
    paper, printer = book.paper(file.paper), book.printer(file.printer)
    plan = resolve(master.facts, paper, printer, file.spec)
    own_ppi = plan.effective_ppi * share
    distance_mm = wish.distance_mm or usual_distance_mm(plan)
    good_mm = largest_length_mm(
        max(master.facts.width_px, master.facts.height_px),
        distance_mm,
        own_share=share,
        least_ppi=wish.least_ppi,
    )
    return replace(
        asked,
        planned=planned,
        plan=plan,
        own_ppi=own_ppi,
        is_good=asked.longest_mm <= good_mm * (1 + 1e-9),
        cost=_paper_cost(plan, book.currency or ""),
    )


def _largest_mm(master: Master, wish: FamilyWish, share: float) -> float:
    width_px, height_px = master.facts.width_px, master.facts.height_px
    if wish.distance_mm is not None:
        return largest_length_mm(
            max(width_px, height_px),
            wish.distance_mm,
            own_share=share,
            least_ppi=wish.least_ppi,
        )
    return largest_at_diagonal_mm(
        width_px,
        height_px,
        nearest_mm=NEAREST_MM,
        own_share=share,
        least_ppi=wish.least_ppi,
    )


def _paper_cost(plan: PrintPlan, currency: str) -> str:
    """Of a sheet, or of the length cut off a roll."""
    basis = planned_paper(plan, currency)
    if basis is None or basis.paper is None:
        return ""
    return f"{basis.paper:.2f} {basis.currency}".rstrip()
