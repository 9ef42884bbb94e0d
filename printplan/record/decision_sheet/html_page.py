"""How does the decision sheet become a page with everything inside?"""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

from jinja2 import Environment, StrictUndefined

from printplan.record.decision_sheet.svg import data_uri, svg_of

if TYPE_CHECKING:
    from printplan.record.decision_sheet.facts import DecisionFacts

_TEMPLATE = "page.html.jinja"


def html_page(facts: DecisionFacts) -> str:
    """
    The decision sheet as one HTML file.

    Parameters
    ----------
    facts : DecisionFacts

    Returns
    -------
    str
        It asks for no other file and no network, and prints on A4 or Letter.
    """
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters |= {"svg": svg_of, "data_uri": data_uri}
    text = files(__package__).joinpath(_TEMPLATE).read_text(encoding="utf-8")
    return environment.from_string(text).render(facts=facts)
