"""What does the decision sheet of a print look like?"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from printplan.record.decision_sheet.html_page import html_page

if TYPE_CHECKING:
    from printplan.record.decision_sheet.facts import DecisionFacts

_HEIGHT_CSS_PX = 760


@dataclass(frozen=True, slots=True)
class InlinePage:
    """
    A whole page inside the page.

    Attributes
    ----------
    html : str
        Holds all that it shows.
    description : str
    """

    html: str
    description: str

    def __repr__(self) -> str:
        return self.description

    def _repr_html_(self) -> str:
        """The page in a frame of its own, where its style touches nothing else."""
        return (
            f'<iframe title="{escape(self.description)}" sandbox '
            f'srcdoc="{escape(self.html)}" style="width: 100%; '
            f'height: {_HEIGHT_CSS_PX}px; border: 1px solid #888; background: #fff">'
            "</iframe>"
        )


def decision_picture(facts: DecisionFacts) -> InlinePage:
    """
    The decision sheet as its HTML file shows it.

    Parameters
    ----------
    facts : DecisionFacts

    Returns
    -------
    InlinePage
        It stays in the notebook without kernel, file or network.
    """
    return InlinePage(html_page(facts), f"Decision sheet: {facts.title}, {facts.line}")
