"""Which papers and printers does the studio have, and do they agree?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from printplan.errors import RecordError
from printplan.media import Paper, Printer
from printplan.record.near_names import did_you_mean

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from printplan.media import PaperOnPrinter

_Named = TypeVar("_Named", Printer, Paper)


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperBook:
    """
    Printers, papers, and the settings of each pair; it agrees with itself.

    Attributes
    ----------
    printers : tuple of Printer
    papers : tuple of Paper
    """

    printers: tuple[Printer, ...]
    papers: tuple[Paper, ...]

    def __post_init__(self) -> None:
        _require_different("printers", (it.name for it in self.printers))
        _require_different("papers", (it.name for it in self.papers))
        for paper in self.papers:
            owner = f'The paper "{paper.name}"'
            for pair in paper.on_printer:
                known = [printer.name for printer in self.printers]
                _require_known(owner, "printer", [pair.printer], known)
                _require_pair(owner, pair, self.printer(pair.printer))

    def paper(self, name: str) -> Paper:
        """
        The paper of that name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Paper

        Raises
        ------
        RecordError
            If the book has no such paper.
        """
        return _by_name("paper", name, self.papers)

    def printer(self, name: str) -> Printer:
        """
        The printer of that name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Printer

        Raises
        ------
        RecordError
            If the book has no such printer.
        """
        return _by_name("printer", name, self.printers)


def _by_name(what: str, name: str, among: tuple[_Named, ...]) -> _Named:
    for one in among:
        if one.name == name:
            return one
    raise RecordError(
        f'The paper book has no {what} "{name}".',
        remedy=did_you_mean(name, [one.name for one in among]),
    )


def _require_different(what: str, names: Iterable[str]) -> None:
    """Names are told apart by people, so case does not make a difference."""
    seen = set()
    for name in names:
        if name.casefold() in seen:
            raise RecordError(
                f'The book has {what} "{name}" twice.',
                remedy="Remove one, or give each a name of its own.",
            )
        seen.add(name.casefold())


def _require_pair(owner: str, pair: PaperOnPrinter, printer: Printer) -> None:
    owner = f'{owner} on "{printer.name}"'
    feeds = [feed.name for feed in printer.feeds]
    _require_known(owner, "black ink", [pair.black_ink], printer.black_inks)
    _require_known(owner, "feed path", pair.feeds, feeds)


def _require_known(
    owner: str, what: str, names: Iterable[str], known: Collection[str]
) -> None:
    for name in names:
        if name not in known:
            raise RecordError(
                f'{owner} names the {what} "{name}", which is not there.',
                remedy=did_you_mean(name, known),
            )
