"""What does an outside print service take, and which paper does it print on?"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.media.limits import require_different, require_name, require_numbers
from printplan.media.paper import (
    Paper,
    PaperOnPrinter,
    Surface,
)
from printplan.spec import UNSAID, Delivery, Extent, FileFormat, NamedSpace

if TYPE_CHECKING:
    from printplan.spec import PrintSpec

AS_ORDERED = "as ordered"
"""Sheet and way in of a print that a service makes: the size that is ordered."""

SERVICES_OWN = "the service's own"
"""Ink and media type, which are the service's affair."""

BYTES_PER_MB = 1_000_000
"""ISO 80000-13: mega is 10 to the 6th. A service that counts 2 to the 20th takes
more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ServicePaper:
    """
    One paper that a service prints on.

    Attributes
    ----------
    name : str
        As it is ordered.
    surface, weight_gsm, thickness_um, psf_sigma_um
        As in `Paper`.
    proof_profile : str
        Path of the ICC output profile that the service gives for it; empty if it
        gives none. The proof is then of the named space.
    """

    name: str
    surface: Surface
    weight_gsm: float
    thickness_um: float
    psf_sigma_um: float
    proof_profile: str = field(default="", metadata={UNSAID: True})

    def __post_init__(self) -> None:
        require_name("A service's paper", "name", self.name)
        require_numbers(f'The service\'s paper "{self.name}"', self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """
    An outside print service: what its files have to be.

    Attributes
    ----------
    named_spaces : tuple of NamedSpace
        Colour spaces that it takes, the usual one first.
    file_formats : tuple of FileFormat
        That it takes, the usual one first.
    ppi : float
        Resolution that it asks for.
    papers : tuple of ServicePaper
        That a print can be ordered on.
    takes_converted : bool
        Permits files in the colour of a paper's `proof_profile`.
    most_pixels : int or None
        Width times height of a file; None if it does not say.
    longest_px : int or None
        Longer edge of a file.
    most_mb : float or None
        Length of a file in millions of bytes.
    jpeg_quality : int or None
        Least JPEG quality that it asks for, 1 to 100.
    bleed_mm : float
        Picture beyond the trimmed print on each side; 0 for none.
    instructions : str
        What it wants to be told with each order, such as a finish; for the order
        sheet.
    """

    name: str
    papers: tuple[ServicePaper, ...]
    named_spaces: tuple[NamedSpace, ...] = (NamedSpace.SRGB,)
    file_formats: tuple[FileFormat, ...] = (FileFormat.JPEG,)
    ppi: float = 300.0
    takes_converted: bool = field(default=False, metadata={UNSAID: True})
    most_pixels: int | None = None
    longest_px: int | None = None
    most_mb: float | None = None
    jpeg_quality: int | None = None
    bleed_mm: float = 0.0
    instructions: str = field(default="", metadata={UNSAID: True})
    note: str = ""
    in_use: bool = field(default=True, metadata={UNSAID: True})

    def __post_init__(self) -> None:
        require_name("A service", "name", self.name)
        owner = f'The service "{self.name}"'
        require_different(owner, "papers", [it.name for it in self.papers])
        require_different(owner, "named_spaces", self.named_spaces)
        require_different(owner, "file_formats", self.file_formats)
        require_numbers(owner, self)

    def paper(self, name: str) -> ServicePaper | None:
        """Its paper of that name; None for one of the studio's."""
        return next((it for it in self.papers if it.name == name), None)

    @property
    def most_bytes(self) -> int | None:
        """Longest file that it takes."""
        return None if self.most_mb is None else int(self.most_mb * BYTES_PER_MB)

    @property
    def words(self) -> str:
        """Its limits in one line."""
        told = [
            " or ".join(self.named_spaces),
            " or ".join(self.file_formats),
            f"{self.ppi:g} ppi",
        ]
        if self.takes_converted:
            told.insert(1, "or converted to its paper's profile")
        for value, words in (
            (self.most_pixels, f"at most {(self.most_pixels or 0) / 1e6:g} million px"),
            (self.longest_px, f"longest edge {self.longest_px} px"),
            (self.most_mb, f"at most {self.most_mb or 0:g} MB"),
            (self.jpeg_quality, f"JPEG quality {self.jpeg_quality} or more"),
            (self.bleed_mm or None, f"bleed {self.bleed_mm:g} mm"),
        ):
            if value is not None:
                told.append(words)
        return ", ".join(told)


def service_paper(service: Service, ordered: ServicePaper) -> Paper:
    """
    A service's paper as the plan of a print takes it.

    Returns
    -------
    Paper
        Set up for the service alone. Its profile is the one to proof with, or the
        name of the space that the service takes where it gives none.
    """
    return Paper(
        name=ordered.name,
        surface=ordered.surface,
        weight_gsm=ordered.weight_gsm,
        thickness_um=ordered.thickness_um,
        psf_sigma_um=ordered.psf_sigma_um,
        on_printer=(
            PaperOnPrinter(
                printer=service.name,
                profile=ordered.proof_profile or service.named_spaces[0],
                black_ink=SERVICES_OWN,
                media_type=ordered.name,
                feeds=(AS_ORDERED,),
            ),
        ),
        note=service.note,
        in_use=service.in_use,
    )


def require_taken(service: Service, paper: Paper, spec: PrintSpec) -> None:
    """
    Refuse a sheet or a file of a kind that a service does not take.

    Raises
    ------
    SpecError
    """
    delivery = spec.delivery
    if spec.sheet.media_size != AS_ORDERED or delivery.extent is Extent.SHEET:
        raise SpecError(
            f"{service.name} prints what is ordered; the sheet is "
            f"{spec.sheet.media_size}, and the file covers the {delivery.extent}.",
            remedy=f'Call the sheet "{AS_ORDERED}", and choose "the picture and its '
            'border".',
        )
    spaces = " or ".join(service.named_spaces)
    ordered = service.paper(paper.name)
    has_profile = ordered is not None and ordered.proof_profile != ""
    if delivery.colour is Delivery.NAMED_SPACE:
        if delivery.named_space not in service.named_spaces:
            raise SpecError(
                f"The file is to be in {delivery.named_space}; {service.name} takes "
                f"{spaces}.",
                remedy=f"Choose the space {service.named_spaces[0]}.",
            )
    elif (
        delivery.colour is Delivery.WORKING_COLOUR
        or not service.takes_converted
        or not has_profile
    ):
        raise SpecError(
            f"The file is to hold {delivery.colour}; {service.name} takes {spaces}"
            + (", or its paper's profile." if service.takes_converted else "."),
            remedy='Choose the colour "a named space" and the space '
            f"{service.named_spaces[0]}.",
        )
    if delivery.file_format not in service.file_formats:
        raise SpecError(
            f"The file is to be {delivery.file_format}; {service.name} takes "
            f"{' or '.join(service.file_formats)}.",
            remedy=f"Choose the format {service.file_formats[0]}.",
        )
