"""What is the picture made of, measured once for all its variations?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from printplan.errors import SpecError
from printplan.pixels.master_measures import MasterMeasures, measure_master
from printplan.pixels.picture_content import (
    FEWEST_EDGES,
    picture_content,
)

if TYPE_CHECKING:
    from printplan.pixels.master import Master
    from printplan.pixels.sheet import Sheet
    from printplan.sharpness.content import ContentFacts

_masters: WeakKeyDictionary[Master, MasterMeasures] = WeakKeyDictionary()


def master_measures(master: Master) -> MasterMeasures:
    """
    Measures of a master's own pixels.

    Parameters
    ----------
    master : Master

    Returns
    -------
    MasterMeasures
        Taken once, and kept as long as the master is.
    """
    if master not in _masters:
        _masters[master] = measure_master(master)
    return _masters[master]


def content_of(sheet: Sheet, given: ContentFacts | None) -> ContentFacts | None:
    """
    Content to judge a sheet's sharpening by.

    Parameters
    ----------
    sheet : Sheet
    given : ContentFacts or None
        Of `picture_content`, if it is at hand.

    Returns
    -------
    ContentFacts or None
        None if it cannot be measured: the picture is too small, or clipped all over.

    Notes
    -----
    Here even a whole picture with fewer than `FEWEST_EDGES` places on edges counts as
    one that says nothing of them: a false alarm costs more trust than a note is worth.
    Our choice.
    """
    try:
        content = picture_content(sheet) if given is None else given
    except SpecError:
        return None
    if content.edge_count >= FEWEST_EDGES:
        return content
    return replace(
        content,
        master_softness_px=None,
        edge_softness_px=None,
        overshoot_share=None,
        already_sharpened=False,
    )
