"""What is one part of the decision sheet made of?"""

from __future__ import annotations

from dataclasses import dataclass

NOT_KNOWN = "not known"
"""Said where nothing is known."""


@dataclass(frozen=True, slots=True)
class Row:
    """
    One thing, and what is said of it.

    Attributes
    ----------
    what, value : str
    """

    what: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """
    One part of the page.

    Attributes
    ----------
    heading : str
    rows : tuple of Row
    words : tuple of str
        Sentences below the rows.
    """

    heading: str
    rows: tuple[Row, ...]
    words: tuple[str, ...] = ()
