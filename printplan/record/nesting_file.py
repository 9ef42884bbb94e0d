"""How are nested prints written to disk, and made once more?"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.pixels.nested_page import NestedPage, NestedPrint
from printplan.pixels.render import Rendered, ending_of, render
from printplan.record.atomic_write import (
    FileHeader,
    read_text,
    require_free_text,
    write_text,
)
from printplan.record.nested_prints import (
    NestedPrints,
    open_prints,
    straight_cuts,
)
from printplan.record.nesting_drawing import draw_nesting
from printplan.record.sidecar import free_print_path
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import text_from_value

if TYPE_CHECKING:
    from printplan.pixels.picture_file import Progress
    from printplan.record.decision_sheet.sheet_drawing import VectorDrawing

NESTING_HEADER: Final = FileHeader(
    name="printplan nesting",
    version=1,
    heading="Prints nested on one medium: where each lies, and the files made of them.",
)

_COMMENTS: Final = {
    "on": "the medium",
    "page_width_mm": "across the feed, of each file",
    "page_length_mm": "along the feed, of each file",
    "gap_mm": "white between neighbours",
    "straight_cuts": "whether straight cuts through free all prints",
    "print.plan": "from this file's folder",
    "print.plan_sha256": "of the plan file as it was",
    "placement.print": "which of the prints above, from 1",
    "placement.turned": "by 90 degrees anticlockwise",
    "file.name": "in this file's folder",
    "file.sha256": "of the whole file",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPrint:
    """A plan, and the hash of its file."""

    plan: str
    plan_sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPrint:
    """Where one print lies; `print` counts the plans from 1."""

    print: int
    sheet: int
    left_mm: float
    top_mm: float
    turned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedFile:
    """A file made of one sheet."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedNesting:
    """
    All that a nesting file says.

    Attributes
    ----------
    on : str
        The medium's name.
    page_width_mm, page_length_mm : float
        Paper that each file covers.
    file : tuple of NestedFile
        One for each sheet, in their order.
    """

    on: str
    page_width_mm: float
    page_length_mm: float
    gap_mm: float
    straight_cuts: bool
    print: tuple[PlanPrint, ...]
    placement: tuple[PlacedPrint, ...]
    file: tuple[NestedFile, ...]

    def __post_init__(self) -> None:
        for placed in self.placement:
            on_file = 1 <= placed.sheet <= len(self.file)
            if not (on_file and 1 <= placed.print <= len(self.print)):
                raise RecordError(
                    f"A placement names print {placed.print} on sheet {placed.sheet}; "
                    f"there are {len(self.print)} prints and {len(self.file)} files.",
                    remedy="Nest the prints again.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeNesting:
    """
    What was written.

    Attributes
    ----------
    files : tuple of Rendered
        One for each sheet.
    record_path : Path or None
        The nesting file; None if it was made once more.
    differs : tuple of str
        Which files are not the recorded ones, byte for byte, and which plans changed.
    """

    files: tuple[Rendered, ...]
    record_path: Path | None = None
    differs: tuple[str, ...] = ()


def nesting_path(out: Path) -> Path:
    """The nesting file that lies beside a finished file."""
    return out.with_name(f"{out.stem}.nesting.toml")


def write_nested(
    nested: NestedPrints,
    out: str | Path | None = None,
    *,
    folder: Path | None = None,
    overwrite: bool = False,
    progress: Progress | None = None,
) -> MadeNesting:
    """
    Write the file of nested prints, one for each sheet, and the nesting beside it.

    Parameters
    ----------
    out : str or Path, optional
        By default a free name.
    folder : Path, optional
        For a free name; by default that of the first plan.
    overwrite : bool, optional
        Permits files of those names to be replaced, as `render` and `write_text` do.

    Raises
    ------
    PrintPlanError
        If something cannot be written; what was written before stays.
    """
    first = nested.wish.plans[0].absolute()
    file_format = next(iter(nested.sheets.values())).plan.delivery.file_format
    target = (
        free_print_path((folder or first.parent) / f"nested{ending_of(file_format)}")
        if out is None
        else Path(out).absolute()
    )
    record_path = nesting_path(target)
    require_free_text(record_path, NESTING_HEADER, overwrite=overwrite)
    _require_no_master(target, nested)
    hashes = {name: _sha256(path) for name, path in nested.paths.items()}
    files = []
    for sheet in range(1, nested.nesting.sheets + 1):
        path = _numbered(target, sheet, nested.nesting.sheets)
        files.append(
            render(nested.page(sheet), path, overwrite=overwrite, progress=progress)
        )
    names = list(nested.paths)
    saved = SavedNesting(
        on=nested.medium_name,
        page_width_mm=nested.page_mm[0],
        page_length_mm=nested.page_mm[1],
        gap_mm=nested.wish.gap_mm,
        straight_cuts=nested.wish.straight_cuts,
        print=tuple(
            PlanPrint(plan=_from(record_path.parent, path), plan_sha256=hashes[name])
            for name, path in nested.paths.items()
        ),
        placement=tuple(
            PlacedPrint(
                print=names.index(it.name) + 1,
                sheet=it.sheet,
                left_mm=it.left_mm,
                top_mm=it.top_mm,
                turned=it.turned,
            )
            for it in nested.nesting.placements
        ),
        file=tuple(NestedFile(name=it.path.name, sha256=it.sha256) for it in files),
    )
    text = text_from_value(saved, NESTING_HEADER, _COMMENTS)
    write_text(text, record_path, NESTING_HEADER, overwrite=overwrite)
    return MadeNesting(files=tuple(files), record_path=record_path)


def write_drawings(nested: NestedPrints, path: str | Path) -> tuple[Path, ...]:
    """
    Draw every sheet into an SVG file of its own; none is replaced.

    Returns
    -------
    tuple of Path
        Numbered where there are several.

    Raises
    ------
    RecordError
        If the name does not end in ``.svg``, is taken, or cannot be written.
    """
    target = Path(path).absolute()
    if target.suffix.lower() != ".svg":
        raise RecordError(
            f"A drawing is to be named {target.name!r}.",
            remedy=f"Name it {target.with_suffix('.svg').name!r}.",
        )
    written = []
    for sheet in range(1, nested.nesting.sheets + 1):
        drawing = draw_nested(nested, sheet)
        one = _numbered(target, sheet, nested.nesting.sheets)
        write_text(drawing.svg, one, NESTING_HEADER)
        written.append(one)
    return tuple(written)


def draw_nested(nested: NestedPrints, sheet: int) -> VectorDrawing:
    """Draw one sheet with its cuts, and what each print is to bear."""
    return draw_nesting(
        nested.nesting,
        unit=nested.unit,
        sheet=sheet,
        cuts=straight_cuts(nested.nesting, sheet) or (),
        prices={it.label: nested.price_words(it) for it in nested.nesting.placements},
    )


def read_nesting(path: str | Path) -> SavedNesting:
    """
    Read a nesting file.

    Raises
    ------
    RecordError
        If it cannot be read, or is none.
    """
    where = str(path)
    table = parse_text(read_text(path), NESTING_HEADER, where=where)
    return value_from_table(SavedNesting, table, where=where)


def make_again(
    path: str | Path, out: str | Path, *, progress: Progress | None = None
) -> MadeNesting:
    """
    Make the files of a nesting once more, each print where it lay.

    Parameters
    ----------
    path : str or Path
        The nesting file.
    out : str or Path
        As for `write_nested`; nothing is replaced.

    Returns
    -------
    MadeNesting
        Says what is not as it was.

    Raises
    ------
    PrintPlanError
        If plans or masters cannot be opened, or the files cannot be written.
    """
    path = Path(path).absolute()
    saved = read_nesting(path)
    plans = [path.parent / it.plan for it in saved.print]
    differs = [
        f"The plan {it.plan} was changed since."
        for it, plan in zip(saved.print, plans, strict=True)
        if _sha256(plan) != it.plan_sha256
    ]
    target = Path(out).absolute()
    files = []
    with open_prints(plans) as (sheets, names):
        for number, wanted in enumerate(saved.file, 1):
            page = NestedPage(
                [
                    NestedPrint(
                        sheet=sheets[names[it.print - 1]],
                        left_mm=it.left_mm,
                        top_mm=it.top_mm,
                        turned=it.turned,
                    )
                    for it in saved.placement
                    if it.sheet == number
                ],
                (saved.page_width_mm, saved.page_length_mm),
            )
            made = render(
                page, _numbered(target, number, len(saved.file)), progress=progress
            )
            files.append(made)
            if made.sha256 != wanted.sha256:
                differs.append(
                    f"{made.path.name} is not the same file as {wanted.name}."
                )
    return MadeNesting(files=tuple(files), differs=tuple(differs))


def _numbered(target: Path, sheet: int, sheets: int) -> Path:
    if sheets == 1:
        return target
    return target.with_name(f"{target.stem}-{sheet}{target.suffix}")


def _sha256(path: Path) -> str:
    return hashlib.sha256(read_text(path).encode()).hexdigest()


def _from(folder: Path, path: Path) -> str:
    """A path as it is written: from a folder, where both have a common root."""
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # another drive
        return str(path)


def _require_no_master(target: Path, nested: NestedPrints) -> None:
    """A page stands for several masters; none of them is written to."""
    for sheet in nested.sheets.values():
        master = Path(sheet.master.facts.path)
        if target.exists() and target.samefile(master):
            raise RecordError(
                f"{target} is a master itself.",
                remedy="Choose another name; a master is never written to.",
            )
