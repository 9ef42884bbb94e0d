"""What comes of two paper books together, and where do they contradict each other?"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from printplan.errors import PrintPlanError, RecordError
from printplan.lessons import RestorePick, SpreadReading
from printplan.media import FeedPath, Paper, PaperOnPrinter, Printer, Stock

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from printplan.record.paper_book import PaperBook


class Side(StrEnum):
    """Whose value a conflict is settled with."""

    MINE = "mine"
    THEIRS = "theirs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """
    One value that the two books give differently.

    Attributes
    ----------
    place : str
        Where it stands, in the words of the book: ``paper "Fen Cotton 310" spread_um``.
    mine, theirs : object
        Both values.
    """

    place: str
    mine: object
    theirs: object

    def __str__(self) -> str:
        return f"{self.place}: {self.mine} here, {self.theirs} there."


@dataclass(frozen=True, slots=True, kw_only=True)
class Merge:
    """
    Two books, with all in which they differ.

    Attributes
    ----------
    mine, theirs : PaperBook
    conflicts : tuple of Conflict
        Values that both give, and give differently.
    added : tuple of str
        Places of what only the other book has; `settled` takes it over.
    """

    mine: PaperBook
    theirs: PaperBook
    conflicts: tuple[Conflict, ...]
    added: tuple[str, ...]

    def settled(self, choices: Mapping[str, Side] | None = None) -> PaperBook:
        """
        The book that has all of both.

        Parameters
        ----------
        choices : mapping of str to Side, optional
            Whose value is taken, by the place of each conflict.

        Returns
        -------
        PaperBook
            Not yet written; see `write_paper_book`.

        Raises
        ------
        RecordError
            If a conflict is not settled, a choice settles none, or the book would
            contradict itself.
        """
        chosen = dict(choices or {})
        open_places = [it.place for it in self.conflicts]
        if strange := [place for place in chosen if place not in open_places]:
            raise RecordError(
                f"There is no conflict at {strange[0]}.",
                remedy="Settle the places that the conflicts name.",
            )
        if unsettled := [it for it in self.conflicts if it.place not in chosen]:
            raise RecordError(
                f"{len(unsettled)} of {len(self.conflicts)} conflicts are not settled; "
                f"the first: {unsettled[0]}",
                remedy='Choose "mine" or "theirs" for each place.',
            )

        def pick(conflict: Conflict) -> object:
            mine = Side(chosen[conflict.place]) is Side.MINE
            return conflict.mine if mine else conflict.theirs

        try:
            book: PaperBook = _Walk(pick, replace, []).join(self.mine, self.theirs, "")
        except PrintPlanError as error:
            raise RecordError(
                f"Settled so, the book contradicts itself: {error.problem}",
                remedy="Take values that belong together from one side.",
            ) from error
        return book


def merge_books(mine: PaperBook, theirs: PaperBook) -> Merge:
    """
    Compare two paper books, to make one of them.

    Parameters
    ----------
    mine, theirs : PaperBook
        As `read_paper_book` gives them, their profiles' paths absolute.

    Returns
    -------
    Merge
        Nothing is chosen in it where the books contradict each other.

    Notes
    -----
    Printers, papers and feed paths are the same by their names, whatever their case;
    settings of a paper by the printer; stock by its size. What only one book has is
    kept, and a value that only one gives is no contradiction. Readings and picks of
    both are kept, those in both once. Two profiles of one hash are one profile,
    wherever the file lies; mine is named then. Where the books' currencies differ,
    each price is given its own before anything is compared.
    """
    conflicts: list[Conflict] = []
    added: list[str] = []
    own, other = _with_currencies(mine, theirs)

    def note(conflict: Conflict) -> object:
        conflicts.append(conflict)
        return conflict.mine

    # Nothing is built while the books are only compared: values of both sides need
    # not go together before they are settled.
    _Walk(note, lambda value, **_: value, added).join(own, other, "")
    return Merge(mine=own, theirs=other, conflicts=tuple(conflicts), added=tuple(added))


_KEYS: dict[type, tuple[str, Callable[[Any], str]]] = {
    Printer: ("printer", lambda it: it.name),
    Paper: ("paper", lambda it: it.name),
    FeedPath: ("feed path", lambda it: it.name),
    PaperOnPrinter: ("on", lambda it: it.printer),
    Stock: ("stock", lambda it: it.words),
}
"""What a list's tables are called, and what makes two of them the same."""


@dataclass(frozen=True, slots=True)
class _Walk:
    """
    One way through two books, value by value.

    `pick` decides where they differ, `make` builds a changed value, and `added` gathers
    the places of what only the other has.
    """

    pick: Callable[[Conflict], object]
    make: Callable[..., Any]
    added: list[str]

    def join(self, mine: Any, theirs: Any, place: str) -> Any:
        """One value of two."""
        if mine == theirs or _is_unknown(theirs):
            return mine
        if _is_unknown(mine):
            self.added.append(place)
            return theirs
        if is_dataclass(mine):
            return self._join_fields(mine, theirs, place)
        if isinstance(mine, tuple) and isinstance(mine[0], SpreadReading | RestorePick):
            new = [it for it in theirs if it not in mine]
            self.added.extend(f"{place} of {it.on}" for it in new)
            return (*mine, *new)
        if _is_list(mine):
            return self._join_lists(mine, theirs, place)
        return self.pick(Conflict(place=place, mine=mine, theirs=theirs))

    def _join_fields(self, mine: Any, theirs: Any, place: str) -> Any:
        changed = {}
        for field in fields(mine):
            if field.name == "profile" and _is_same_profile(mine, theirs):
                continue
            own, other = getattr(mine, field.name), getattr(theirs, field.name)
            # The tables of a list are called by their own names.
            is_list = _is_list(own) or _is_list(other)
            below = place if is_list else f"{place} {field.name}".strip()
            changed[field.name] = (
                self._join_lists(own, other, place)
                if is_list
                else self.join(own, other, below)
            )
        return self.make(mine, **changed)

    def _join_lists(
        self, mine: tuple[Any, ...], theirs: tuple[Any, ...], place: str
    ) -> tuple[Any, ...]:
        word, key = _KEYS[type((*mine, *theirs)[0])]
        others = {key(it).casefold(): it for it in theirs}
        joined = []
        for one in mine:
            below = f'{place} {word} "{key(one)}"'.strip()
            other = others.pop(key(one).casefold(), None)
            joined.append(one if other is None else self.join(one, other, below))
        self.added.extend(
            f'{place} {word} "{key(it)}"'.strip() for it in others.values()
        )
        return (*joined, *others.values())


def _is_list(value: object) -> bool:
    """Whether a value is a list of tables that are known by a key."""
    return isinstance(value, tuple) and bool(value) and type(value[0]) in _KEYS


def _is_same_profile(mine: object, theirs: PaperOnPrinter) -> bool:
    return (
        isinstance(mine, PaperOnPrinter)
        and mine.profile_sha256 == theirs.profile_sha256
        and mine.profile_sha256 != ""
    )


def _is_unknown(value: object) -> bool:
    """Whether a value says that nobody gave one."""
    return value is None or value in ("", ())


def _with_currencies(mine: PaperBook, theirs: PaperBook) -> tuple[PaperBook, PaperBook]:
    """Both books; where their currencies differ, each price with its own."""
    if mine.currency == theirs.currency:
        return mine, theirs
    return _priced(mine), _priced(theirs)


def _priced(book: PaperBook) -> PaperBook:
    own = book.currency
    return replace(
        book,
        printers=tuple(
            replace(it, currency=it.currency or own)
            if it.ink_price_per_ml is not None
            else it
            for it in book.printers
        ),
        papers=tuple(
            replace(
                paper,
                stock=tuple(
                    replace(it, currency=it.currency or own)
                    if it.price_each is not None
                    else it
                    for it in paper.stock
                ),
            )
            for paper in book.papers
        ),
    )
