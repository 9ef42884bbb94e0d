"""What can a printer do, and which paper goes into it?"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from printplan.errors import SpecError
from printplan.media.limits import (
    require_currency,
    require_different,
    require_name,
    require_numbers,
)
from printplan.media.service import AS_ORDERED, SERVICES_OWN, Service
from printplan.spec import LONGEST_MM, SHORTEST_MM, UNSAID, FileFormat

BIT_DEPTHS = (8, 16)
"""Bits per channel of the files that are made."""


class DriverColour(StrEnum):
    """Which device colours a printer's driver takes."""

    RGB = "RGB"
    CMYK = "CMYK"


class MediaForm(StrEnum):
    """What a feed path takes."""

    SHEETS = "sheets"
    ROLLS = "rolls"


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
        require_numbers("The margins", self)

    @property
    def words(self) -> str:
        """Where how much stays white."""
        return (
            f"leading {self.leading_mm:g}, trailing {self.trailing_mm:g}, left "
            f"{self.left_mm:g}, right {self.right_mm:g} mm"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedPath:
    """
    One way for paper into the printer.

    Attributes
    ----------
    shortest_mm, longest_mm : float
        Along the feed.
    narrowest_mm, widest_mm : float
        Across the feed.
    thinnest_um, thickest_um : float
        Paper thickness taken.
    takes : MediaForm
        Cut sheets or rolls.
    margins_source : str
        Who says so of the margins: the printer, its manual, a page that was measured.
    borderless : tuple of str
        Sizes that it prints without a margin, if the driver is told to.
    """

    name: str
    margins: Margins
    shortest_mm: float
    longest_mm: float
    narrowest_mm: float
    widest_mm: float
    thinnest_um: float
    thickest_um: float
    takes: MediaForm = MediaForm.SHEETS
    margins_source: str = field(default="", metadata={UNSAID: True})
    borderless: tuple[str, ...] = field(default=(), metadata={UNSAID: True})

    def __post_init__(self) -> None:
        require_name("A feed path", "name", self.name)
        if self.borderless:
            owner = f'The feed path "{self.name}"'
            require_different(owner, "borderless", self.borderless)
        require_numbers(f'The feed path "{self.name}"', self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Printer:
    """
    One printer.

    Attributes
    ----------
    black_inks : tuple of str
        Inks of which one prints black at a time.
    input_ppi : tuple of float
        Resolutions at which the printer takes pixels without resampling them.
    bit_depths : tuple of int
        Bits per channel that the printer takes, out of `BIT_DEPTHS`.
    inks : tuple of str
        All inks, the black ones among them; empty if not written down.
    longest_print_mm : float or None
        Longest print that printer and driver make, on any feed path.
    ink_price_per_ml : float or None
        None if not known.
    currency : str or None
        Of that price, three capital letters (ISO 4217); None for the book's own.
    driver_colour : DriverColour
        What the driver takes: a paper's profile has to be for that.
    media_types, qualities, driver_resolutions, platen_gaps : tuple of str
        What the driver offers, in its own words; empty if not written down.
    m2_per_h : float or None
        Area that it prints in an hour at the quality in use; None if not known.
    ipp_address : str
        Where it answers by IPP: ``ipp://host:port/path``; empty if it does not.
    in_use : bool
        Whether it is offered for new plans.
    former_names : tuple of str
        By which plans of before find it.
    service : Service or None
        Whose prints these are, where an outside service makes them: what is said here
        then follows from it, see `service_printer`.
    """

    name: str
    black_inks: tuple[str, ...]
    feeds: tuple[FeedPath, ...]
    input_ppi: tuple[float, ...]
    bit_depths: tuple[int, ...] = BIT_DEPTHS
    inks: tuple[str, ...] = ()
    longest_print_mm: float | None = None
    ink_price_per_ml: float | None = None
    currency: str | None = None
    note: str = ""
    driver_colour: DriverColour = field(
        default=DriverColour.RGB, metadata={UNSAID: True}
    )
    media_types: tuple[str, ...] = field(default=(), metadata={UNSAID: True})
    qualities: tuple[str, ...] = field(default=(), metadata={UNSAID: True})
    driver_resolutions: tuple[str, ...] = field(default=(), metadata={UNSAID: True})
    platen_gaps: tuple[str, ...] = field(default=(), metadata={UNSAID: True})
    m2_per_h: float | None = field(default=None, metadata={UNSAID: True})
    ipp_address: str = field(default="", metadata={UNSAID: True})
    in_use: bool = field(default=True, metadata={UNSAID: True})
    former_names: tuple[str, ...] = field(default=(), metadata={UNSAID: True})
    service: Service | None = field(default=None, metadata={UNSAID: True})

    def __post_init__(self) -> None:
        require_name("A printer", "name", self.name)
        owner = f'The printer "{self.name}"'
        for offered in (
            "media_types",
            "qualities",
            "driver_resolutions",
            "platen_gaps",
        ):
            if words := getattr(self, offered):
                require_different(owner, offered, words)
        require_different(owner, "black_inks", self.black_inks)
        require_different(owner, "feeds", [feed.name for feed in self.feeds])
        require_different(owner, "input_ppi", self.input_ppi)
        require_different(owner, "bit_depths", self.bit_depths)
        require_numbers(owner, self)
        require_currency(owner, self.currency)
        self._require_inks(owner)
        for bits in self.bit_depths:
            if bits not in BIT_DEPTHS:
                raise SpecError(
                    f"{owner} has {bits} in bit_depths.",
                    remedy=f"Give {' or '.join(map(str, BIT_DEPTHS))}, or both.",
                )

    def _require_inks(self, owner: str) -> None:
        if not self.inks:
            return
        require_different(owner, "inks", self.inks)
        for black in self.black_inks:
            if black not in self.inks:
                raise SpecError(
                    f'{owner} has the black ink "{black}", which is not among its '
                    f"inks: {', '.join(self.inks)}.",
                    remedy="Write each black ink among the inks as well, in the same "
                    "words, or leave the inks out.",
                )

    def feed(self, name: str) -> FeedPath:
        """
        The feed path of that name.

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


def service_printer(service: Service) -> Printer:
    """
    A service in the place of a printer, so that a plan needs none of the studio's.

    Returns
    -------
    Printer
        Its one way in takes what is ordered, without margins: the file is the whole
        print. Its inks are not known here.
    """
    none = Margins(leading_mm=0, trailing_mm=0, left_mm=0, right_mm=0)
    is_deep = any(
        it in service.file_formats for it in (FileFormat.TIFF_16, FileFormat.PDF)
    )
    return Printer(
        name=service.name,
        black_inks=(SERVICES_OWN,),
        feeds=(
            FeedPath(
                name=AS_ORDERED,
                margins=none,
                thinnest_um=1,
                thickest_um=5000,
                shortest_mm=SHORTEST_MM,
                longest_mm=LONGEST_MM,
                narrowest_mm=SHORTEST_MM,
                widest_mm=LONGEST_MM,
            ),
        ),
        input_ppi=(service.ppi,),
        bit_depths=BIT_DEPTHS if is_deep else BIT_DEPTHS[:1],
        note=service.note,
        in_use=service.in_use,
        service=service,
    )
