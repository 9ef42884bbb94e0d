"""How is the same picture planned once more, from its plan or its record?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.free_name import free_path
from printplan.record.paper_book import read_paper_book
from printplan.record.paper_defaults import defaults_path, moved_to, read_paper_defaults
from printplan.record.plan_file import (
    open_plan_file,
    read_plan_file,
    with_kernel_path,
    with_master_paths,
    write_plan_file,
)
from printplan.record.record_file import read_record
from printplan.record.studio_folder import path_in_studio
from printplan.spec import SizeRule

if TYPE_CHECKING:
    from printplan.spec import SizeSpec


def duplicate_job(  # noqa: PLR0913 - what another print of a picture can differ in
    plan_path: str | Path,
    *,
    paper: str | None = None,
    printer: str | None = None,
    setup: str | None = None,
    width_mm: float | None = None,
    media_size: str | None = None,
) -> Path:
    """
    Plan the same picture once more, on another paper or in another size.

    Parameters
    ----------
    plan_path : str or Path
        The plan to go on from; it stays as it is.
    paper, printer : str, optional
        Names in its paper book; its own if not given.
    setup : str, optional
        Which of the paper's setups; its own where the paper has one of that name.
    width_mm : float, optional
        Width of the picture on paper. A picture that is cut to an area keeps the
        area's shape.
    media_size : str, optional
        Another sheet.

    Returns
    -------
    Path
        A new plan beside the old one, under a number that is free. What was last kept
        for that paper on that printer is in it; see `PaperDefaults`. Its note is
        empty, and what was answered to findings lies in the records of the old one.

    Raises
    ------
    PrintPlanError
        If plan, paper book, master or profile cannot be read, or the print cannot be
        made so. Then there is no new plan.
    """
    plan_path = Path(plan_path).absolute()
    old = read_plan_file(plan_path)
    whole = old.resolved(plan_path)
    book = read_paper_book(whole.book)
    to, by = book.paper(paper or old.paper), book.printer(printer or old.printer)
    before = book.paper(old.paper).name, book.printer(old.printer).name
    kept = None
    if (to.name, by.name) != before:
        kept = read_paper_defaults(
            defaults_path(whole.book), paper=to.name, printer=by.name
        )
    spec = moved_to(whole.spec, to, by, defaults=kept, setup=setup)
    if media_size is not None:
        sheet = replace(
            spec.sheet, media_size=media_size, width_mm=None, height_mm=None
        )
        spec = replace(spec, sheet=sheet)
    if width_mm is not None:
        spec = replace(spec, size=_as_wide(spec.size, width_mm))
    wish = replace(whole, paper=to.name, printer=by.name, spec=spec, note="")
    # A plan that cannot be made is not written: it could not be opened either.
    open_plan_file(wish).master.close()
    kernel = old.spec.sharpen.kernel
    if spec.sharpen.kernel == whole.spec.sharpen.kernel != kernel:
        spec = replace(spec, sharpen=replace(spec.sharpen, kernel=kernel))
    target = free_path(plan_path)
    write_plan_file(
        replace(old, paper=to.name, printer=by.name, spec=spec, note=""), target
    )
    return target


def plan_of_record(record_path: str | Path) -> Path:
    """
    Write the plan that a print was made from as a new job.

    Parameters
    ----------
    record_path : str or Path
        The print's record, which stays as it is.

    Returns
    -------
    Path
        A new plan beside the record, under the name of the print's file and a number
        where that is taken. Paper and printer are what the paper book holds now.

    Raises
    ------
    PrintPlanError
        If the record does not tell its paper book, something that it names cannot be
        read, or the print cannot be made so. Then there is no new plan.
    """
    record_path = Path(record_path).absolute()
    record = read_record(record_path)
    wish = record.plan_file()
    # A plan that cannot be made is not written: it could not be opened either.
    open_plan_file(wish).master.close()
    folder, studio = record_path.parent, Path(wish.book).parent

    def near(whole: str) -> str:
        return path_in_studio(whole, folder, studio)

    target = free_path(folder / f"{Path(record.rendered.path).stem}.toml")
    near_wish = replace(
        wish,
        master=with_master_paths(wish.master, near),
        book=near(wish.book),
        spec=with_kernel_path(wish.spec, near),
    )
    write_plan_file(near_wish, target)
    return target


def _as_wide(size: SizeSpec, width_mm: float) -> SizeSpec:
    if size.rule is SizeRule.FILL and size.width_mm and size.height_mm:
        height_mm = width_mm * size.height_mm / size.width_mm
        return replace(size, width_mm=width_mm, height_mm=height_mm)
    return replace(
        size, rule=SizeRule.WIDTH, width_mm=width_mm, height_mm=None, longest_mm=None
    )
