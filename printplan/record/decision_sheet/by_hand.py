"""What is done by hand before and after a dear sheet, and what can hurt?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.spec import Delivery

if TYPE_CHECKING:
    from printplan.plan import PrintPlan


def heading_by_hand(plan: PrintPlan) -> str:
    """
    Where the checks by hand are made.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    str
    """
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return "With the order, by hand"
    return "At the printer, by hand"


def checks_by_hand(plan: PrintPlan) -> tuple[str, ...]:
    """
    What to do before and after the sheet goes in.

    Parameters
    ----------
    plan : PrintPlan

    Returns
    -------
    tuple of str
        In order; for an outside service nothing of this studio's printer. Common
        practice, no source.
    """
    if plan.delivery.colour is Delivery.NAMED_SPACE:
        return _WITH_ORDER
    hours = plan.paper.drying_h
    drying = f"{hours:g} h" if hours is not None else "as its data sheet says"
    return (
        "Nozzle check printed on plain paper: every line whole",
        f"{_capital(plan.setup.black_ink)} is in use, and ink is left in all colours",
        "Feed path and platen clean; dust brushed or blown off the sheet",
        "Curl flattened: no corner stands up to the head",
        (
            "Printable side found, as the paper's maker says, and turned as the "
            f"{plan.feed.name} wants it"
        ),
        "Edge with the arrow enters first; sheet straight against its guide",
        f"After printing: lies flat and dries {drying} before it is stacked or framed",
    )


_WITH_ORDER = (
    "The service's own sheet read: kind of file, colour space, size, border",
    "File opened once as it will be sent: size and profile are those of this page",
    "A small print ordered first where the run is dear",
    "What comes is measured against the picture's size, and looked at in good light",
    "Handled with clean hands or gloves until it is framed",
)

CAUTIONS = (
    (
        "Blades: cut away from yourself along a metal safety rule, with the other hand "
        "behind the edge; sheathe the blade."
    ),
    (
        "Sprays, varnishes, adhesives, solvents: ventilate, keep flames away, wear "
        "what the safety data sheet says."
    ),
    "Rolls and boards are heavy: lift from the knees, two people for a large roll.",
    "The makers' sheets and the rules of your place come before this page.",
)
"""Usual cautions: common practice, no source."""


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
