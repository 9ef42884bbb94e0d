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
    from printplan.pixels.trial_scan import spread_from_scan as spread_from_scan
    from printplan.pixels.trial_steps import intent_steps as intent_steps
    from printplan.pixels.trial_steps import lightness_steps as lightness_steps
    from printplan.pixels.trial_steps import plain_steps as plain_steps
    from printplan.pixels.trial_steps import restore_steps as restore_steps
    from printplan.pixels.trials import TrialSpec as TrialSpec
    from printplan.pixels.trials import TrialTargets as TrialTargets
    from printplan.pixels.trials import make_trial as make_trial
    from printplan.plan import PrintPlan as PrintPlan
    from printplan.plan import resolve as resolve
    from printplan.record.paper_lessons import forget_lesson as forget_lesson
    from printplan.record.paper_lessons import keep_pick as keep_pick
    from printplan.record.paper_lessons import keep_spread as keep_spread
    from printplan.record.papers import read_paper_book as read_paper_book
    from printplan.record.plan_file import read_plan_file as read_plan_file
    from printplan.sharpness.learned import restore_on as restore_on
    from printplan.sharpness.learned import spread_on as spread_on
    from printplan.size.layout import Box as Box
    from printplan.size.trial_layout import TrialCover as TrialCover

_HOME = {
    "Box": "printplan.size.layout",
    "Finding": "printplan.checks",
    "PrintPlan": "printplan.plan",
    "TrialCover": "printplan.size.trial_layout",
    "TrialSpec": "printplan.pixels.trials",
    "TrialTargets": "printplan.pixels.trials",
    "build_sheet": "printplan.pixels.sheet",
    "check_pixels": "printplan.checks",
    "check_plan": "printplan.checks",
    "forget_lesson": "printplan.record.paper_lessons",
    "keep_pick": "printplan.record.paper_lessons",
    "keep_spread": "printplan.record.paper_lessons",
    "intent_steps": "printplan.pixels.trial_steps",
    "lightness_steps": "printplan.pixels.trial_steps",
    "make_trial": "printplan.pixels.trials",
    "open_master": "printplan.pixels.master",
    "plain_steps": "printplan.pixels.trial_steps",
    "read_paper_book": "printplan.record.papers",
    "read_plan_file": "printplan.record.plan_file",
    "render": "printplan.pixels.render",
    "resolve": "printplan.plan",
    "restore_steps": "printplan.pixels.trial_steps",
    "restore_on": "printplan.sharpness.learned",
    "spread_from_scan": "printplan.pixels.trial_scan",
    "spread_on": "printplan.sharpness.learned",
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
