"""
Plan one photographic print: size, sharpening, paper colour, placement, record.

The names below are loaded when first used, so that ``import printplan`` costs
almost nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from printplan.checks import Finding as Finding
    from printplan.checks import check_pixels as check_pixels
    from printplan.checks import check_plan as check_plan
    from printplan.pixels.master import open_master as open_master
    from printplan.pixels.render import render as render
    from printplan.pixels.sheet import build_sheet as build_sheet
    from printplan.pixels.trials.scan_reading import (
        spread_from_scan as spread_from_scan,
    )
    from printplan.pixels.trials.steps import intent_steps as intent_steps
    from printplan.pixels.trials.steps import lightness_steps as lightness_steps
    from printplan.pixels.trials.steps import plain_steps as plain_steps
    from printplan.pixels.trials.steps import restore_steps as restore_steps
    from printplan.pixels.trials.trial_sheet import TrialSpec as TrialSpec
    from printplan.pixels.trials.trial_sheet import TrialTargets as TrialTargets
    from printplan.pixels.trials.trial_sheet import make_trial as make_trial
    from printplan.plan import PrintPlan as PrintPlan
    from printplan.plan import resolve as resolve
    from printplan.record.compare_records import compare_records as compare_records
    from printplan.record.decision_sheet.write import (
        write_decision_sheet as write_decision_sheet,
    )
    from printplan.record.ipp.job_ticket import job_ticket as job_ticket
    from printplan.record.journal.journal import open_journal as open_journal
    from printplan.record.journal.view import look_into_journal as look_into_journal
    from printplan.record.paper_lessons import forget_lesson as forget_lesson
    from printplan.record.paper_lessons import keep_pick as keep_pick
    from printplan.record.paper_lessons import keep_spread as keep_spread
    from printplan.record.papers import read_paper_book as read_paper_book
    from printplan.record.plan_file import read_plan_file as read_plan_file
    from printplan.record.record import make_record as make_record
    from printplan.record.record_file import read_record as read_record
    from printplan.record.record_file import write_record as write_record
    from printplan.record.reprint import reprint as reprint
    from printplan.sharpness.learned import restore_on as restore_on
    from printplan.sharpness.learned import spread_on as spread_on
    from printplan.size.layout import Box as Box
    from printplan.size.trial_layout import TrialCover as TrialCover

_HOME = {
    "Box": "printplan.size.layout",
    "Finding": "printplan.checks",
    "LengthUnit": "printplan.units",
    "PrintPlan": "printplan.plan",
    "TrialCover": "printplan.size.trial_layout",
    "TrialSpec": "printplan.pixels.trials.trial_sheet",
    "TrialTargets": "printplan.pixels.trials.trial_sheet",
    "build_sheet": "printplan.pixels.sheet",
    "check_pixels": "printplan.checks",
    "check_plan": "printplan.checks",
    "compare_records": "printplan.record.compare_records",
    "forget_lesson": "printplan.record.paper_lessons",
    "keep_pick": "printplan.record.paper_lessons",
    "keep_spread": "printplan.record.paper_lessons",
    "intent_steps": "printplan.pixels.trials.steps",
    "job_ticket": "printplan.record.ipp.job_ticket",
    "lightness_steps": "printplan.pixels.trials.steps",
    "look_into_journal": "printplan.record.journal.view",
    "make_record": "printplan.record.record",
    "make_trial": "printplan.pixels.trials.trial_sheet",
    "open_journal": "printplan.record.journal.journal",
    "open_master": "printplan.pixels.master",
    "plain_steps": "printplan.pixels.trials.steps",
    "read_paper_book": "printplan.record.papers",
    "read_plan_file": "printplan.record.plan_file",
    "read_record": "printplan.record.record_file",
    "render": "printplan.pixels.render",
    "reprint": "printplan.record.reprint",
    "resolve": "printplan.plan",
    "restore_steps": "printplan.pixels.trials.steps",
    "restore_on": "printplan.sharpness.learned",
    "spread_from_scan": "printplan.pixels.trials.scan_reading",
    "spread_on": "printplan.sharpness.learned",
    "write_decision_sheet": "printplan.record.decision_sheet.write",
    "write_record": "printplan.record.record_file",
    **dict.fromkeys(
        (
            "AlphaRule",
            "BlackPointCompensation",
            "ColourSpec",
            "Delivery",
            "DeliverySpec",
            "Extent",
            "FileFormat",
            "Intent",
            "MountSpec",
            "NamedSpace",
            "Orientation",
            "Placement",
            "PrintSpec",
            "RoomSpec",
            "SharpenSpec",
            "SheetSpec",
            "SizeRule",
            "SizeSpec",
        ),
        "printplan.spec",
    ),
}

__all__ = ["__version__", *sorted(_HOME)]  # noqa: PLE0604 - every key is a name


def __getattr__(name: str) -> object:
    if name == "__version__":
        from importlib.metadata import version  # noqa: PLC0415 - slow, seldom asked

        return version("printplan")
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'printplan' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
