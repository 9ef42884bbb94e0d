"""A small print and its record, as several tests want them."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import tifffile

from printplan.checks import check_pixels, check_plan
from printplan.colour.spaces import named_profile
from printplan.pixels.render import render
from printplan.record.paper_book import write_paper_book
from printplan.record.plan_file import PlanFile, open_plan_file
from printplan.record.record import make_record
from printplan.spec import (
    FileFormat,
    MasterSpec,
    NamedSpace,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

MADE_ON = datetime(2026, 5, 3, 14, 5, tzinfo=timezone(timedelta(hours=2)))
ENDINGS = {FileFormat.JPEG: ".jpg", FileFormat.PDF: ".pdf"}


def small_studio(folder, studio, pixels):
    """A paper book and a master in a folder; the plan that prints it."""
    folder.mkdir(exist_ok=True)
    write_paper_book(studio.book, folder / "book.toml")
    tifffile.imwrite(
        folder / "master.tif",
        pixels,
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )
    wish = PlanFile(
        master=MasterSpec(file="master.tif"),
        book="book.toml",
        paper="Fen Cotton 310",
        printer="Studio 24",
        spec=PrintSpec(
            size=SizeSpec(rule=SizeRule.WIDTH, width_mm=120, ppi=150),
            sheet=SheetSpec(media_size="A4", feed="front slot"),
            sharpen=SharpenSpec(gain=0.8, radius_mm=0.2),
        ),
        note="From the plan.",
    )
    return wish.resolved(folder / "plan.toml")


def with_spec(wish, **parts):
    return replace(wish, spec=replace(wish.spec, **parts))


def recorded(wish, path, **options):
    """Render a plan to a path without its ending, and record that."""
    ending = ENDINGS.get(wish.spec.delivery.file_format, ".tif")
    sheet = open_plan_file(wish)
    with sheet.master:
        findings = [*check_plan(sheet.plan), *check_pixels(sheet)]
        rendered = render(sheet, path.with_suffix(ending))
        return make_record(
            sheet, findings, rendered, made_on=MADE_ON, plan_file=wish, **options
        )
