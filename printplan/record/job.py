"""How is a plan made in which everything is chosen, each choice with its reason?"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from math import floor
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import FitError, RecordError, SpecError
from printplan.free_name import free_path
from printplan.media import MediaForm
from printplan.media.service import AS_ORDERED
from printplan.pixels.consequences import judged, with_intent
from printplan.pixels.master import open_master
from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.sharpening_spec import (
    usual_distance_mm,
    usual_distance_words,
    usual_restore,
)
from printplan.pixels.sheet import build_sheet, varied
from printplan.plan import resolve
from printplan.record.decision_sheet.print_facts import check_header
from printplan.record.paper_book import only_in_use, read_paper_book
from printplan.record.paper_defaults import defaults_path, read_paper_defaults
from printplan.record.plan_file import PlanFile, with_master_paths, write_plan_file
from printplan.record.service_plan import for_printer, service_delivery
from printplan.record.studio_folder import make_folder, path_in_studio
from printplan.sizing.media_sizes import roll_width_mm
from printplan.sizing.print_size import acuity_ppi
from printplan.spec import (
    SHORTEST_MM,
    DeliverySpec,
    FileFormat,
    MasterSpec,
    Placement,
    PrintSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)
from printplan.units import LengthUnit, length_words, mm_from_inches

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from printplan.media import Paper, PaperOnPrinter, Printer
    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.paper_book import PaperBook
    from printplan.record.paper_defaults import PaperDefaults
    from printplan.sizing.layout import SheetLayout

_PROBE_MM = 10.0
"""Edge of a picture that goes on any sheet: it asks where a sheet can be printed on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobWish:
    """
    What a person says of a print; the rest is chosen.

    Attributes
    ----------
    paper, printer, setup : str
        Names in the paper book; empty where it has only one in use.
    width_mm, height_mm, longest_mm : float or None
        One of them at most; none for the largest picture that the sheet takes.
    media_size : str
        Name of the sheet; empty for one that is kept of the paper.
    feed : str
        Feed path; empty for the first that takes paper and sheet.
    border_mm : float or None
        White that is kept round the picture.
    distance_mm : float or None
        Eye to print; None for what is usual at its size.
    """

    master: MasterSpec
    paper: str = ""
    printer: str = ""
    setup: str = ""
    width_mm: float | None = None
    height_mm: float | None = None
    longest_mm: float | None = None
    media_size: str = ""
    feed: str = ""
    border_mm: float | None = None
    distance_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """
    A plan in which everything is chosen.

    Attributes
    ----------
    plan_file : PlanFile
        With whole paths.
    reasons : tuple of str
        Each choice in a line.
    """

    plan_file: PlanFile
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Basis:
    """What a print is made on, and what was last chosen for that."""

    paper: Paper
    printer: Printer
    setup: PaperOnPrinter
    defaults: PaperDefaults | None
    unit: LengthUnit


def plan_job(
    book_path: str | Path, wish: JobWish, report: Callable[[str], None] = lambda _: None
) -> Planned:
    """
    Choose all that a person did not say about a print.

    Parameters
    ----------
    book_path : str or Path
        The paper book.
    report : callable, optional
        Takes a line about what is being done now.

    Returns
    -------
    Planned
        Nothing is written.

    Raises
    ------
    RecordError
        If paper or printer have to be named, or the book cannot be read.
    PrintPlanError
        If the master or the profile cannot be read, or no sheet takes the print.
    """
    book = read_paper_book(book_path)
    printer = _printer(book, wish.printer)
    paper = _paper(book, wish.paper, printer)
    setup = paper.on(printer, wish.setup)
    basis = _Basis(
        paper=paper,
        printer=printer,
        setup=setup,
        defaults=read_paper_defaults(
            defaults_path(book_path), paper=paper.name, printer=printer.name
        ),
        unit=book.lengths_in,
    )
    report("Opening the master.")
    master = open_master(
        wish.master.file,
        assume_profile=wish.master.assume_profile,
        alpha=wish.master.alpha,
    )
    with master:
        reasons = [f"Paper: {paper.name} on {_on(printer, setup)}."]
        size, sheet = _laid_out(wish, master, basis)
        spec = _spec(basis, size, sheet)
        plan = resolve(master.facts, paper, printer, spec)
        reasons += _size_reasons(wish, plan)
        composed = build_sheet(master, plan)
        report("Comparing the rendering intents.")
        composed, reason = _with_least_cost(composed)
        reasons.append(reason)
        report("Measuring what the picture holds.")
        composed, reason = _sharpened(composed, wish.distance_mm)
        reasons.append(reason)
        reasons.append(_file_reason(basis, composed))
        spec = composed.plan.spec
    return Planned(
        plan_file=PlanFile(
            master=replace(wish.master, file=str(Path(wish.master.file).absolute())),
            book=str(Path(book_path).absolute()),
            paper=paper.name,
            printer=printer.name,
            spec=spec,
        ),
        reasons=tuple(reasons),
    )


def write_job(planned: Planned, folder: str | Path, *, also: str = "") -> Path:
    """
    Write a plan into a folder of jobs, under a name that is free.

    Parameters
    ----------
    folder : str or Path
        Made if missing.
    also : str, optional
        Stands in the name as well, such as a size.

    Returns
    -------
    Path
        The plan file: named after master and paper. Paths of what lies in the same
        studio are written from there, so that the studio can move.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    folder = Path(folder).absolute()
    wish = planned.plan_file
    make_folder(folder)
    stem = f"{Path(wish.master.file).stem} {also}"
    name = f"{_plain(stem)}-on-{_plain(wish.paper)}"
    path = free_path(folder / f"{name}.toml")
    write_job_as(wish, path)
    return path


def write_job_as(wish: PlanFile, path: Path) -> None:
    """
    Write a plan under a name that is free.

    Parameters
    ----------
    wish : PlanFile
        With whole paths. Those of what lies in the same studio are written from the
        plan's folder, so that the studio can move.
    path : Path
        Absolute; its folder is there.

    Raises
    ------
    RecordError
        If it exists already or cannot be written.
    """
    folder, studio = path.parent, Path(wish.book).parent
    near = replace(
        wish,
        master=with_master_paths(
            wish.master, lambda it: path_in_studio(it, folder, studio)
        ),
        book=path_in_studio(wish.book, folder, studio),
    )
    write_plan_file(near, path)


# What is printed on


def _printer(book: PaperBook, name: str) -> Printer:
    if name:
        return book.printer(name)
    return only_in_use(
        "printer", book.printers, remedy="Name the printer of this print."
    )


def _paper(book: PaperBook, name: str, printer: Printer) -> Paper:
    if name:
        return book.paper(name)
    return only_in_use(
        "paper",
        [it for it in (*book.papers, *book.service_papers) if it.setups(printer)],
        where=f" for {printer.name}",
        remedy="Name the paper of this print.",
    )


def _on(printer: Printer, setup: PaperOnPrinter) -> str:
    return printer.name + (f', setup "{setup.setup}"' if setup.setup else "")


# Size and place


def _laid_out(
    wish: JobWish, master: Master, basis: _Basis
) -> tuple[SizeSpec, SheetSpec]:
    """
    The first way in which the picture goes on a sheet: sheets in the order that they
    were asked for or are kept in, feed paths in the paper's own order.
    """
    sheets = [wish.media_size] if wish.media_size else list(basis.paper.sheets)
    if basis.printer.service is not None:
        _require_ordered(wish, basis.printer.name)
        sheets = [AS_ORDERED]
    if not sheets:
        raise RecordError(
            f"The paper book knows no sheet size of {basis.paper.name}.",
            remedy="Name the sheet, such as A3 or 13x19 in.",
        )
    refusal: FitError | None = None
    for media_size in sheets:
        for feed in [wish.feed] if wish.feed else _feeds(basis, media_size):
            sheet = _sheet(wish, basis, media_size, feed)
            try:
                return _size(wish, master, basis, sheet), sheet
            except FitError as error:
                refusal = refusal or error
    if refusal is not None:
        raise refusal
    of_kind = " for rolls" if roll_width_mm(wish.media_size) is not None else ""
    raise RecordError(
        f"{basis.paper.name} has no feed path{of_kind} on {basis.printer.name}.",
        remedy="Write its feed paths into the paper book.",
    )


def _require_ordered(wish: JobWish, service: str) -> None:
    if wish.media_size not in {"", AS_ORDERED} or not (
        wish.width_mm or wish.height_mm or wish.longest_mm
    ):
        raise SpecError(
            f"{service} prints the size that is ordered.",
            remedy="Give the picture's width, height or longest edge, and no sheet.",
        )


def _feeds(basis: _Basis, media_size: str) -> list[str]:
    """Feed paths of the paper; of a roll, those that take rolls."""
    feeds = list(basis.setup.feeds)
    if roll_width_mm(media_size) is None:
        return feeds
    takes = {it.name: it.takes for it in basis.printer.feeds}
    return [it for it in feeds if takes.get(it) is MediaForm.ROLLS]


def _sheet(wish: JobWish, basis: _Basis, media_size: str, feed: str) -> SheetSpec:
    kept = basis.defaults
    border_mm = wish.border_mm
    if border_mm is None:
        border_mm = 0.0 if kept is None else kept.sheet.border_mm
    sheet = SheetSpec(media_size=media_size, feed=feed, border_mm=border_mm)
    if kept is None or kept.sheet.placement is Placement.OFFSET:
        return sheet
    return replace(sheet, placement=kept.sheet.placement)


def _size(wish: JobWish, master: Master, basis: _Basis, sheet: SheetSpec) -> SizeSpec:
    """The size that was asked for, or the largest that the sheet takes."""
    asked = {
        SizeRule.WIDTH: ("width_mm", wish.width_mm),
        SizeRule.HEIGHT: ("height_mm", wish.height_mm),
        SizeRule.LONGEST_EDGE: ("longest_mm", wish.longest_mm),
    }
    given = [
        SizeSpec(rule=rule, ppi=basis.printer.input_ppi[0], **{name: length_mm})
        for rule, (name, length_mm) in asked.items()
        if length_mm is not None
    ]
    if len(given) > 1:
        raise SpecError(
            f"{len(given)} lengths of the picture were given.",
            remedy="Give one; the other follows from the photograph.",
        )
    if given:
        size = given[0]
    else:
        width_mm, height_mm = _room_mm(master, basis, sheet)
        size = SizeSpec(
            rule=SizeRule.FIT,
            ppi=basis.printer.input_ppi[0],
            width_mm=width_mm,
            height_mm=height_mm,
        )
    plan = _resolved(master, basis, size, sheet)
    return replace(size, ppi=_ppi(basis.printer, plan.effective_ppi))


def _room_mm(master: Master, basis: _Basis, sheet: SheetSpec) -> tuple[float, float]:
    """The largest picture in the middle of a sheet, in whole millimetres or tenths of
    an inch.
    """
    facts = master.facts
    # As the photograph stands, so that the sheet is turned as for the photograph.
    is_wide = facts.width_px >= facts.height_px
    rule = SizeRule.WIDTH if is_wide else SizeRule.HEIGHT
    length = {"width_mm" if is_wide else "height_mm": _PROBE_MM}
    probe = SizeSpec(rule=rule, ppi=basis.printer.input_ppi[0], **length)
    layout = _resolved(
        master, basis, probe, replace(sheet, placement=Placement.CENTRED)
    ).layout
    if roll_width_mm(sheet.media_size) is not None:
        return _room_on_roll_mm(basis, sheet, layout, is_wide=is_wide)
    paper, inside = layout.sheet, layout.printable
    step_mm = mm_from_inches(0.1) if basis.unit is LengthUnit.INCHES else 1.0

    def room(low_mm: float, high_mm: float, middle_mm: float) -> float:
        half_mm = min(middle_mm - low_mm, high_mm - middle_mm) - sheet.border_mm
        return floor(2 * half_mm / step_mm + 1e-9) * step_mm

    room_mm = (
        room(inside.left_mm, inside.right_mm, (paper.left_mm + paper.right_mm) / 2),
        room(inside.top_mm, inside.bottom_mm, (paper.top_mm + paper.bottom_mm) / 2),
    )
    if min(room_mm) < SHORTEST_MM:
        raise FitError(
            f"{sheet.media_size} leaves no room for a picture inside its border of "
            f"{sheet.border_mm:g} mm.",
            remedy="Choose a narrower border or a larger sheet.",
        )
    return room_mm


def _room_on_roll_mm(
    basis: _Basis, sheet: SheetSpec, layout: SheetLayout, *, is_wide: bool
) -> tuple[float, float]:
    """The largest picture along a roll, its shorter edge across."""
    feed, longest_mm = basis.printer.feed(sheet.feed), basis.printer.longest_print_mm
    longest_mm = min(feed.longest_mm, longest_mm or feed.longest_mm)
    margins, border_mm = feed.margins, sheet.border_mm
    across_mm = layout.in_feed_mm[0] - 2 * max(
        margins.left_mm, margins.right_mm, border_mm
    )
    along_mm = longest_mm - sum(
        max(it, border_mm) for it in (margins.leading_mm, margins.trailing_mm)
    )
    step_mm = mm_from_inches(0.1) if basis.unit is LengthUnit.INCHES else 1.0
    across_mm, along_mm = (
        floor(it / step_mm + 1e-9) * step_mm for it in (across_mm, along_mm)
    )
    return (along_mm, across_mm) if is_wide else (across_mm, along_mm)


def _resolved(
    master: Master, basis: _Basis, size: SizeSpec, sheet: SheetSpec
) -> PrintPlan:
    spec = _spec(basis, size, sheet)
    return resolve(master.facts, basis.paper, basis.printer, spec)


def _spec(basis: _Basis, size: SizeSpec, sheet: SheetSpec) -> PrintSpec:
    spec = PrintSpec(
        size=size,
        sheet=sheet,
        delivery=_delivery(basis, sheet),
        lengths_in=basis.unit,
        setup=basis.setup.setup,
    )
    return for_printer(spec, basis.paper, basis.printer)


def _ppi(printer: Printer, effective: float) -> float:
    """The least resolution of the printer's own that keeps all of the master's."""
    enough = [it for it in printer.input_ppi if it >= effective]
    return min(enough) if enough else max(printer.input_ppi)


def _size_reasons(wish: JobWish, plan: PrintPlan) -> Iterator[str]:
    sheet, unit = plan.spec.sheet, plan.spec.lengths_in
    is_asked = plan.spec.size.rule is not SizeRule.FIT
    told = length_words(unit, *plan.trimmed_mm)
    on_roll = roll_width_mm(sheet.media_size) is not None
    where = "on the" if on_roll else "in the middle of"
    why = "as asked" if is_asked else f"the largest {where} {sheet.media_size}"
    bleed_mm = plan.delivery.bleed_mm
    bled = f", and {length_words(unit, bleed_mm)} of bleed on each side"
    yield f"Size: {told}, {why}{bled if bleed_mm > 0 else ''}."
    if plan.printer.service is not None:
        yield f"Sheet: {sheet.media_size}, {plan.layout.orientation}."
    else:
        yield from _sheet_reasons(wish, plan)
    distance_mm = wish.distance_mm or usual_distance_mm(plan)
    useful = acuity_ppi(distance_mm)
    enough = "more than" if plan.effective_ppi >= useful else "fewer than"
    yield (
        f"Resolution: {plan.ppi:g} ppi, which the printer takes as it is; the master "
        f"gives {plan.effective_ppi:.0f} pixels an inch, {enough} the {useful:.0f} "
        f"that an eye can use from {length_words(unit, distance_mm)}."
    )


def _sheet_reasons(wish: JobWish, plan: PrintPlan) -> Iterator[str]:
    sheet = plan.spec.sheet
    kept = "" if wish.media_size else ", the first kept size of the paper that takes it"
    yield f"Sheet: {sheet.media_size}, {plan.layout.orientation}{kept}."
    first = "" if wish.feed else ", the first of the paper's that takes this sheet"
    yield f"Feed path: {sheet.feed}{first}."


# Colour and sharpness


def _with_least_cost(sheet: Sheet) -> tuple[Sheet, str]:
    judgement = judged(sheet)
    best = judgement.recommended
    reason = (
        f"Intent: {best.choice.intent}, black point compensation "
        f"{best.choice.black_point_compensation}. {judgement.reason}"
    )
    return varied(sheet, with_intent(sheet.plan.spec, best.choice)), reason


def _sharpened(sheet: Sheet, distance_mm: float | None) -> tuple[Sheet, str]:
    plan = sheet.plan
    size, unit = plan.picture_size, plan.spec.lengths_in
    why = "as asked"
    if distance_mm is None:
        distance_mm = usual_distance_mm(plan)
        why = usual_distance_words(size.width_mm, size.height_mm)
    advice = chosen_sharpening(
        plan,
        picture_content(sheet),
        distance_mm=distance_mm,
        restore=usual_restore(plan),
    )
    spec = advice.spec
    reason = (
        f"Sharpening: gain {spec.gain:.2f}, radius {spec.radius_mm:.3f} mm, for a "
        f"viewing distance of {length_words(unit, distance_mm)} ({why}). "
        f"{advice.choice.why} {advice.reason}"
    )
    return varied(sheet, replace(plan.spec, sharpen=spec)), reason


# The file


def _delivery(basis: _Basis, sheet: SheetSpec) -> DeliverySpec:
    if basis.printer.service is not None:
        return service_delivery(basis.printer.service, border_mm=sheet.border_mm)
    if basis.defaults is not None:
        kept = basis.defaults.delivery
        return DeliverySpec(
            colour=kept.colour,
            named_space=kept.named_space,
            file_format=kept.file_format,
            extent=kept.extent,
        )
    is_deep = max(basis.printer.bit_depths) > 8
    return DeliverySpec(
        file_format=FileFormat.TIFF_16 if is_deep else FileFormat.TIFF_8
    )


def _file_reason(basis: _Basis, sheet: Sheet) -> str:
    rows = check_header(sheet.plan, file_profile=sheet.profile.name)
    told = next(row.value for row in rows if row.what == "File")
    why = f"the most bits that {basis.printer.name} takes"
    if basis.printer.service is not None:
        why = f"{basis.printer.name} takes {basis.printer.service.words}"
    elif basis.defaults is not None:
        why = "as last chosen for this paper"
    return f"File: {told}; {why}."


def _plain(name: str) -> str:
    """A name as part of a file's."""
    return re.sub(r"[\W_]+", "-", name.casefold()).strip("-") or "print"
