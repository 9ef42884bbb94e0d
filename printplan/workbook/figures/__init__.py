"""
What does each step look like? Pictures that stay without the kernel.

Each picture is loaded from its own module when it is first asked for, so that a
notebook's first one comes soon.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from printplan.workbook.figures.colour import intents_picture as intents_picture
    from printplan.workbook.figures.colour import papers_picture as papers_picture
    from printplan.workbook.figures.colour import places_picture as places_picture
    from printplan.workbook.figures.colour import proof_picture as proof_picture
    from printplan.workbook.figures.colour import reach_picture as reach_picture
    from printplan.workbook.figures.colour import (
        separation_picture as separation_picture,
    )
    from printplan.workbook.figures.decision import decision_picture as decision_picture
    from printplan.workbook.figures.gamut import gamut_picture as gamut_picture
    from printplan.workbook.figures.gamut import paper_gamut as paper_gamut
    from printplan.workbook.figures.gamut import screen_gamut as screen_gamut
    from printplan.workbook.figures.gamut import solid_picture as solid_picture
    from printplan.workbook.figures.journal import journal_picture as journal_picture
    from printplan.workbook.figures.light import light_picture as light_picture
    from printplan.workbook.figures.light import tone_picture as tone_picture
    from printplan.workbook.figures.sharpness import as_seen_picture as as_seen_picture
    from printplan.workbook.figures.sharpness import choice_picture as choice_picture
    from printplan.workbook.figures.sharpness import edge_picture as edge_picture
    from printplan.workbook.figures.sharpness import (
        responses_picture as responses_picture,
    )
    from printplan.workbook.figures.sharpness import (
        sharpening_picture as sharpening_picture,
    )
    from printplan.workbook.figures.size import master_picture as master_picture
    from printplan.workbook.figures.size import resolution_picture as resolution_picture
    from printplan.workbook.figures.size import sheet_picture as sheet_picture
    from printplan.workbook.figures.trial import scan_picture as scan_picture
    from printplan.workbook.figures.trial import trial_picture as trial_picture

_MODULES = {
    "size": ("master_picture", "resolution_picture", "sheet_picture"),
    "sharpness": (
        "as_seen_picture",
        "choice_picture",
        "edge_picture",
        "responses_picture",
        "sharpening_picture",
    ),
    "trial": ("scan_picture", "trial_picture"),
    "colour": (
        "intents_picture",
        "papers_picture",
        "places_picture",
        "proof_picture",
        "reach_picture",
        "separation_picture",
    ),
    "decision": ("decision_picture",),
    "gamut": ("gamut_picture", "paper_gamut", "screen_gamut", "solid_picture"),
    "journal": ("journal_picture",),
    "light": ("light_picture", "tone_picture"),
}
_HOME = {name: module for module, names in _MODULES.items() for name in names}

__all__ = sorted(_HOME)  # noqa: PLE0605 - every key is a name


def __getattr__(name: str) -> object:
    if name in _HOME:
        return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
