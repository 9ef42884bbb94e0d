"""How is a paper book read that lists sheets instead of stock?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Mapping

OLD_LIST: Final = "sheets"
"""Key of a paper that was a bare list of sheet sizes before there was stock."""


def with_stock(tables: Mapping[str, object], where: str) -> dict[str, object]:
    """
    The tables of a book, with old lists of sheet sizes as uncounted stock.

    Parameters
    ----------
    tables : mapping
        As TOML gives them; not changed.
    where : str
        Name of the file, for errors.

    Returns
    -------
    dict

    Raises
    ------
    RecordError
        If a paper has both, or its list is no list of names.
    """
    papers = tables.get("paper")
    if not isinstance(papers, list):
        return dict(tables)
    moved = [
        _moved(it, f"{where}: [[paper]] no. {n}") for n, it in enumerate(papers, 1)
    ]
    return {**tables, "paper": moved}


def _moved(paper: object, place: str) -> object:
    if not isinstance(paper, dict) or OLD_LIST not in paper:
        return paper
    sizes = paper[OLD_LIST]
    if "stock" in paper:
        raise RecordError(
            f"{place} has sheets and stock.",
            remedy="Remove sheets; write each size as a table [[paper.stock]] with "
            'sheet = "A3" and the like.',
        )
    if not isinstance(sizes, list) or not all(isinstance(it, str) for it in sizes):
        raise RecordError(
            f"{place} sheets is no list of names.",
            remedy="Remove it; write each size as a table [[paper.stock]] with sheet = "
            '"A3" and the like.',
        )
    kept = {key: value for key, value in paper.items() if key != OLD_LIST}
    return {**kept, "stock": [{"sheet": size} for size in sizes]}
