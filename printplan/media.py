"""What the paper and the printer are: frozen values, without files or pixels."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from printplan.errors import SpecError


class Surface(StrEnum):
    """Paper surface, as far as ink and sharpening care."""

    MATTE = "matte"
    SATIN = "satin"
    BARYTA = "baryta"
    GLOSS = "gloss"
    CANVAS = "canvas"


@dataclass(frozen=True, slots=True, kw_only=True)
class Margins:
    """
    White edges that a feed path cannot print on, as the sheet enters it.

    Attributes
    ----------
    leading_mm, trailing_mm : float
        At the edge that enters first and at the edge that enters last.
    left_mm, right_mm : float
        Seen with the printed side up and the leading edge at the top.
    """

    leading_mm: float
    trailing_mm: float
    left_mm: float
    right_mm: float

    def __post_init__(self) -> None:
        for name in ("leading_mm", "trailing_mm", "left_mm", "right_mm"):
            if not 0 <= getattr(self, name) <= 200:
                raise SpecError(
                    f"The margin {name} is {getattr(self, name):g} mm.",
                    remedy="Give the margin of the printer's manual, 0 to 200 mm.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedPath:
    """
    One way for paper into the printer.

    Attributes
    ----------
    name : str
    margins : Margins
    shortest_mm, longest_mm : float
        Along the feed.
    narrowest_mm, widest_mm : float
        Across the feed.
    thinnest_um, thickest_um : float
        Paper thickness taken.
    """

    name: str
    margins: Margins
    shortest_mm: float
    longest_mm: float
    narrowest_mm: float
    widest_mm: float
    thinnest_um: float
    thickest_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Printer:
    """
    One printer.

    Attributes
    ----------
    name : str
    black_inks : tuple of str
        Inks of which one prints black at a time.
    feeds : tuple of FeedPath
    input_ppi : tuple of float
        Resolutions at which the printer takes pixels without resampling them.
    bit_depths : tuple of int
        Bits per channel that the printer takes.
    """

    name: str
    black_inks: tuple[str, ...]
    feeds: tuple[FeedPath, ...]
    input_ppi: tuple[float, ...]
    bit_depths: tuple[int, ...] = (8, 16)

    def feed(self, name: str) -> FeedPath:
        """
        The feed path of that name.

        Parameters
        ----------
        name : str

        Returns
        -------
        FeedPath

        Raises
        ------
        SpecError
            If the printer has no such path.
        """
        for feed in self.feeds:
            if feed.name == name:
                return feed
        names = ", ".join(feed.name for feed in self.feeds)
        raise SpecError(
            f"{self.name} has no feed path {name!r}.",
            remedy=f"Choose one of: {names}.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperOnPrinter:
    """
    Settings of one paper that belong to one printer.

    Attributes
    ----------
    printer : str
    profile : str
        Path of the ICC output profile made for this pair.
    profile_sha256 : str
        Hash of that file when the pair was set up; empty if not yet taken.
    black_ink : str
    media_type : str
        The paper's name as this printer's own driver calls it.
    feeds : tuple of str
        Feed paths that take this paper.
    """

    printer: str
    profile: str
    black_ink: str
    media_type: str
    feeds: tuple[str, ...]
    profile_sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """
    One paper.

    Attributes
    ----------
    name : str
    surface : Surface
    weight_gsm : float
    thickness_um : float
    spread_um : float
        Standard deviation of the spread of ink and light in this paper.
    on_printer : tuple of PaperOnPrinter
    sheets : tuple of str
        Sheet sizes kept of this paper.
    note : str
    """

    name: str
    surface: Surface
    weight_gsm: float
    thickness_um: float
    spread_um: float
    on_printer: tuple[PaperOnPrinter, ...]
    sheets: tuple[str, ...] = ()
    note: str = ""

    def on(self, printer: Printer) -> PaperOnPrinter:
        """
        The settings of this paper on a printer.

        Parameters
        ----------
        printer : Printer

        Returns
        -------
        PaperOnPrinter

        Raises
        ------
        SpecError
            If the paper was never set up for that printer.
        """
        for pair in self.on_printer:
            if pair.printer == printer.name:
                return pair
        names = ", ".join(pair.printer for pair in self.on_printer) or "none"
        raise SpecError(
            f"{self.name} has no settings for {printer.name}; it has them for {names}.",
            remedy="Add them to the paper book, with the profile made for this pair.",
        )
