"""Which papers and printers does the studio have, and do they agree?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from printplan.errors import RecordError, SpecError
from printplan.media import Paper, Printer
from printplan.media.limits import require_currency
from printplan.record.near_names import did_you_mean
from printplan.size.media_sizes import canonical_media_size

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
    currency : str or None
        Of all prices that name none: three capital letters (ISO 4217).
    """

    printers: tuple[Printer, ...]
    papers: tuple[Paper, ...]
    currency: str | None = None

    def __post_init__(self) -> None:
        _require_currency(self.currency)
        _require_different("printers", (it.name for it in self.printers))
        _require_different("papers", (it.name for it in self.papers))
        for paper in self.papers:
            owner = f'The paper "{paper.name}"'
            _require_sizes(owner, paper)
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


def _require_currency(currency: str | None) -> None:
    try:
        require_currency("The book", currency)
    except SpecError as error:
        raise RecordError(error.problem, remedy=error.remedy) from error


def _require_sizes(owner: str, paper: Paper) -> None:
    """Sheets are named so that their size is known, each size once."""
    seen: dict[str, str] = {}
    for size in paper.sheets:
        try:
            name = canonical_media_size(size)
        except SpecError as error:
            raise RecordError(
                f"{owner}, stock: {error.problem}", remedy=error.remedy
            ) from error
        if name in seen:
            raise RecordError(
                f'{owner} has the size {name} twice in stock, as "{seen[name]}" and '
                f'"{size}".',
                remedy="Remove one, and add its sheets to the other.",
            )
        seen[name] = size


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
