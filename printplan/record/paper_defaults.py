"""What was last chosen for a paper on a printer, so that it comes back with it?"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from printplan.errors import RecordError
from printplan.foreign_file import is_there
from printplan.record.atomic_write import FileHeader, change_text, read_text
from printplan.record.plan_file import PLAN_COMMENTS
from printplan.record.service_plan import for_printer
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import cannot_edit, edited_text, text_from_value
from printplan.spec import (
    UNSAID,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    NamedSpace,
    Placement,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

if TYPE_CHECKING:
    from printplan.media import Paper, Printer
    from printplan.plan import PrintPlan


DEFAULTS_HEADER: Final = FileHeader(
    name="printplan kept choices",
    version=1,
    heading="What was last chosen for each paper on each printer. It comes back when "
    "the paper\nis chosen again; delete a [[kept]] table to begin afresh with that "
    "paper.",
)

_ANY_PLAN = PrintSpec(
    size=SizeSpec(rule=SizeRule.WIDTH, width_mm=100, ppi=300),
    sheet=SheetSpec(media_size="A4", feed="any"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DefaultSheet:
    """
    How pictures go on this paper; the sheet's own size is each print's affair.

    Attributes
    ----------
    feed, placement, offset_right_mm, offset_down_mm, border_mm
        As in `SheetSpec`.
    """

    feed: str
    placement: Placement
    offset_right_mm: float = 0.0
    offset_down_mm: float = 0.0
    border_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DefaultDelivery:
    """
    What kind of file is made; how many prints of it is each print's affair.

    Attributes
    ----------
    colour, named_space, file_format, extent
        As in `DeliverySpec`.
    """

    colour: Delivery
    named_space: NamedSpace | None = None
    file_format: FileFormat
    extent: Extent


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperDefaults:
    """
    All that sticks to one paper on one printer.

    Attributes
    ----------
    paper, printer : str
        Names in the paper book.
    setup : str
        As in `PrintSpec`.
    """

    paper: str
    printer: str
    setup: str = field(default="", metadata={UNSAID: True})
    ppi: float
    sheet: DefaultSheet
    sharpen: SharpenSpec
    colour: ColourSpec
    delivery: DefaultDelivery

    def __post_init__(self) -> None:
        self.applied_to(_ANY_PLAN)  # refuses what no plan could take

    def applied_to(self, spec: PrintSpec) -> PrintSpec:
        """
        A spec with these choices in it.

        Returns
        -------
        PrintSpec
            Size, crop, sheet, mount, room and copies are those of `spec`.

        Raises
        ------
        SpecError
            If a choice leaves its range.
        """
        return replace(
            spec,
            setup=self.setup,
            size=replace(spec.size, ppi=self.ppi),
            sheet=replace(spec.sheet, **_values(self.sheet)),
            sharpen=self.sharpen,
            colour=self.colour,
            delivery=replace(spec.delivery, **self._delivery(spec.delivery)),
        )

    def _delivery(self, asked: DeliverySpec) -> dict[str, Any]:
        """The kind of file, without what only another kind of it can have."""
        kept = self.delivery
        values = _values(kept)
        if kept.file_format is not FileFormat.JPEG:
            values["jpeg_quality"] = None
        if kept.extent is Extent.SHEET and asked.extent is Extent.PICTURE:
            values |= {"exact_width_px": None, "exact_height_px": None, "bleed_mm": 0.0}
        return values


def _values(part: DefaultSheet | DefaultDelivery) -> dict[str, Any]:
    return {it.name: getattr(part, it.name) for it in fields(part)}


def moved_to(
    spec: PrintSpec,
    paper: Paper,
    printer: Printer,
    *,
    defaults: PaperDefaults | None = None,
    setup: str | None = None,
) -> PrintSpec:
    """
    A spec on another paper or printer, with a setup and a feed path that it has.

    Parameters
    ----------
    defaults : PaperDefaults, optional
        What was last chosen for them; nothing of it if not given.
    setup : str, optional
        Which of the paper's setups; that of the spec, if there is one of its name, if
        not given.

    Returns
    -------
    PrintSpec
        A feed path that does not take the paper gives way to the first that does.

    Raises
    ------
    SpecError
        If the paper was never set up for that printer, or has no such setup.
    """
    spec = for_printer(spec, paper, printer)
    if defaults is not None:
        spec = for_printer(defaults.applied_to(spec), paper, printer)
    if setup is None:
        known = {it.setup for it in paper.setups(printer)}
        setup = spec.setup if spec.setup in known else ""
    feeds = paper.on(printer, setup).feeds
    if spec.sheet.feed not in feeds:
        spec = replace(spec, sheet=replace(spec.sheet, feed=feeds[0]))
    return replace(spec, setup=setup)


def paper_defaults_of(plan: PrintPlan) -> PaperDefaults:
    """What a plan has chosen for its paper and printer."""
    spec = plan.spec
    return PaperDefaults(
        paper=plan.paper.name,
        printer=plan.printer.name,
        setup=spec.setup,
        ppi=spec.size.ppi,
        sheet=DefaultSheet(
            **{it.name: getattr(spec.sheet, it.name) for it in fields(DefaultSheet)}
        ),
        sharpen=spec.sharpen,
        colour=spec.colour,
        delivery=DefaultDelivery(
            **{
                it.name: getattr(spec.delivery, it.name)
                for it in fields(DefaultDelivery)
            }
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """The choices as their file lays them out."""

    kept: tuple[PaperDefaults, ...] = ()

    def __post_init__(self) -> None:
        seen = set()
        for one in self.kept:
            pair = (one.paper, one.printer)
            if pair in seen:
                raise RecordError(
                    f'The choices for "{one.paper}" on "{one.printer}" are kept twice.',
                    remedy="Delete one of the two tables in that file.",
                )
            seen.add(pair)

    def of(self, paper: str, printer: str) -> PaperDefaults | None:
        for one in self.kept:
            if (one.paper, one.printer) == (paper, printer):
                return one
        return None

    def with_these(self, defaults: PaperDefaults) -> _Layout:
        old = self.of(defaults.paper, defaults.printer)
        if old is None:
            return _Layout(kept=(*self.kept, defaults))
        return _Layout(kept=tuple(defaults if it is old else it for it in self.kept))


_COMMENTS: Final = {
    "kept": "one table for each paper and printer",
    "kept.paper": PLAN_COMMENTS["paper"],
    "kept.printer": PLAN_COMMENTS["printer"],
    "kept.setup": PLAN_COMMENTS["setup"],
    "kept.ppi": PLAN_COMMENTS["size.ppi"],
} | {
    f"kept.{place}": words
    for place, words in PLAN_COMMENTS.items()
    if place.partition(".")[0] in {"sheet", "sharpen", "colour", "delivery"}
    and "." in place
}


def defaults_path(book_path: str | Path) -> Path:
    """
    Where the defaults of the papers of a book are saved.

    Parameters
    ----------
    book_path : str or Path
        The paper book.

    Returns
    -------
    Path
        Beside it.
    """
    book = Path(book_path)
    return book.with_name(f"{book.stem}-choices.toml")


def read_paper_defaults(
    path: str | Path, *, paper: str, printer: str
) -> PaperDefaults | None:
    """
    What was last chosen for a paper on a printer.

    Parameters
    ----------
    path : str or Path
        From `defaults_path`.

    Returns
    -------
    PaperDefaults or None
        None if nothing was saved for them yet.

    Raises
    ------
    RecordError
        If the file is there and cannot be read as paper defaults.
    SpecError
        If a value in it leaves its range.
    """
    if not is_there(path):
        return None
    return _parse(read_text(path), str(path)).of(paper, printer)


def read_defaults_of(
    path: str | Path, paper: Paper, printer: Printer
) -> PaperDefaults | None:
    """
    What was last chosen for a paper on a printer, under whatever names they had then.

    Parameters
    ----------
    path : str or Path
        From `defaults_path`.

    Returns
    -------
    PaperDefaults or None
        What was saved under the names of today, or under the latest of those that
        they had before. None if nothing was.

    Raises
    ------
    RecordError, SpecError
        As for `read_paper_defaults`.
    """
    if not is_there(path):
        return None
    kept = _parse(read_text(path), str(path))
    found = (
        kept.of(one, other)
        for one in (paper.name, *reversed(paper.former_names))
        for other in (printer.name, *reversed(printer.former_names))
    )
    return next((it for it in found if it is not None), None)


def write_paper_defaults(path: str | Path, defaults: PaperDefaults) -> None:
    """
    Save what was chosen for one paper on one printer; all else stays as typed.

    Parameters
    ----------
    path : str or Path
        From `defaults_path`; made if there is none.
    defaults : PaperDefaults
        Takes the place of what was saved for that pair.

    Raises
    ------
    RecordError
        If the file is there and cannot be read as paper defaults, or cannot be
        written. It is then as it was.
    SpecError
        If a value in it leaves its range.

    Notes
    -----
    No choice of another writer is lost; see `change_text`.
    """
    where = str(path)
    change_text(
        path, DEFAULTS_HEADER, lambda text: _with(text, defaults, where), create=True
    )


def _with(text: str | None, defaults: PaperDefaults, where: str) -> str:
    """The file's text with these choices in it."""
    if text is None:
        return text_from_value(_Layout(kept=(defaults,)), DEFAULTS_HEADER, _COMMENTS)
    old = _parse(text, where)
    new = old.with_these(defaults)
    if new == old:
        return text
    edited = edited_text(text, old, new, _COMMENTS, where=where)
    if _parse(edited, where) != new:
        raise cannot_edit(where)
    return edited


def _parse(text: str, where: str) -> _Layout:
    return value_from_table(
        _Layout, parse_text(text, DEFAULTS_HEADER, where=where), where=where
    )
