"""What is a paper likely to be, as its profile tells it?"""

from __future__ import annotations

import re
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Generic, NamedTuple, TypeVar

from printplan.checks.profile import DEEPEST_MATTE_L, PALEST_GLOSSY_L
from printplan.colour.profiles import NAMELESS
from printplan.errors import SpecError, did_you_mean
from printplan.media import MediaForm, Paper, PaperOnPrinter, Stock, Surface
from printplan.media.paper import can_be_white
from printplan.sizing.media_sizes import canonical_media_size, roll_name, roll_width_mm

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from printplan.colour.profile_quality import ProfileQuality
    from printplan.media import Printer

_Value = TypeVar("_Value")

OUR_CHOICE = "our choice"
GIVEN = "as you gave it"

# Trade words for surfaces, in the order in which they are looked for: semi-gloss is
# no gloss.
_SURFACE_WORDS = (
    (Surface.CANVAS, ("canvas",)),
    (Surface.BARYTA, ("baryta", "baryt", "fibre", "fiber")),
    (
        Surface.SATIN,
        ("semigloss", "semi gloss", "satin", "luster", "lustre", "pearl", "silk"),
    ),
    (
        Surface.MATTE,
        ("uncoated", "matte", "matt", "cotton", "rag", "etching", "watercolour"),
    ),
    (Surface.GLOSS, ("gloss", "glossy", "coated")),
)
_MATTE_KINDS = frozenset({Surface.MATTE, Surface.CANVAS})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Usual:
    """What papers of a surface usually are; our choice, from common ones."""

    psf_sigma_um: float
    weight_gsm: float
    um_per_gsm: float


_USUAL = {
    Surface.MATTE: _Usual(psf_sigma_um=47.0, weight_gsm=230.0, um_per_gsm=1.4),
    Surface.SATIN: _Usual(psf_sigma_um=28.0, weight_gsm=260.0, um_per_gsm=1.0),
    Surface.BARYTA: _Usual(psf_sigma_um=30.0, weight_gsm=310.0, um_per_gsm=1.05),
    Surface.GLOSS: _Usual(psf_sigma_um=25.0, weight_gsm=260.0, um_per_gsm=1.0),
    Surface.CANVAS: _Usual(psf_sigma_um=60.0, weight_gsm=380.0, um_per_gsm=1.3),
}

DRYING_H = 24.0
"""Hours before framing or stacking: a day. Common practice, no source."""

# Weights that a three-figure number in a name can mean.
_WEIGHTS_GSM = (120, 500)
_LONGEST_NAME = 80
_PERFECT_LAB = 0.3  # From a perfect white, which no paper has.
_MEDIA_TYPES = "media types"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperWish:
    """
    What a person says of a paper; the rest is proposed.

    Attributes
    ----------
    sheets : tuple of str
        Cut sizes that are kept.
    setup : str or None
        Tells several setups on one printer apart.
    """

    name: str | None = None
    surface: Surface | None = None
    white_lab: tuple[float, ...] | None = None
    weight_gsm: float | None = None
    thickness_um: float | None = None
    psf_sigma_um: float | None = None
    drying_h: float | None = None
    black_ink: str | None = None
    feeds: tuple[str, ...] | None = None
    media_type: str | None = None
    quality: str | None = None
    driver_resolution: str | None = None
    platen_gap: str | None = None
    ink_limit_percent: float | None = None
    setup: str | None = None
    sheets: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Proposed(Generic[_Value]):
    """
    A value, and where it comes from in words.

    Attributes
    ----------
    is_guess : bool
        Whether it should be looked up: neither given nor read from the profile.
    """

    value: _Value
    source: str
    is_guess: bool = False


class ProposalRow(NamedTuple):
    """One proposed value in words, and where it comes from."""

    what: str
    value: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperProposal:
    """
    A paper on a printer, each of its values with its source.

    Attributes
    ----------
    known : Paper or None
        The paper, if the book has it: then only the setup is new.
    """

    known: Paper | None

    name: Proposed[str]
    surface: Proposed[Surface]
    white_lab: Proposed[tuple[float, ...] | None]
    weight_gsm: Proposed[float]
    thickness_um: Proposed[float]
    psf_sigma_um: Proposed[float]
    drying_h: Proposed[float]
    black_ink: Proposed[str]
    feeds: Proposed[tuple[str, ...]]
    media_type: Proposed[str]
    quality: Proposed[str]
    driver_resolution: Proposed[str]
    platen_gap: Proposed[str]
    ink_limit_percent: Proposed[float | None]
    setup: Proposed[str]
    sheets: Proposed[tuple[str, ...]]

    def rows(self) -> Iterator[ProposalRow]:
        """All of it in words, for a table or a list of lines."""
        if self.known is not None:
            yield ProposalRow("paper", self.known.name, "in the paper book already")
        own = set() if self.known is None else OF_THE_PAPER
        for name, (what, unit) in LABELS.items():
            if name in own:
                continue
            proposed = getattr(self, name)
            yield ProposalRow(what, _words(proposed.value, unit), proposed.source)

    def paper(self, printer: Printer, profile: str, profile_sha256: str) -> Paper:
        """
        The paper itself, with one setup.

        Parameters
        ----------
        profile : str
            Path of its profile as the book has it.
        profile_sha256 : str
            Hash of that file.

        Raises
        ------
        SpecError
            If a value leaves its range.
        """
        guesses = [
            GUESSED_WORDS[it.name]
            for it in fields(self)
            if it.name in GUESSED_WORDS and getattr(self, it.name).is_guess
        ]
        note = f"Look up: {', '.join(guesses)}." if guesses else ""
        return Paper(
            name=self.name.value,
            surface=self.surface.value,
            weight_gsm=self.weight_gsm.value,
            thickness_um=self.thickness_um.value,
            psf_sigma_um=self.psf_sigma_um.value,
            on_printer=(self.setup_on(printer, profile, profile_sha256),),
            stock=tuple(map(_stock, self.sheets.value)),
            white_lab=self.white_lab.value,
            drying_h=self.drying_h.value,
            note=note,
        )

    def setup_on(
        self, printer: Printer, profile: str, profile_sha256: str
    ) -> PaperOnPrinter:
        """
        What belongs to the printer alone.

        Parameters
        ----------
        profile, profile_sha256
            As for `paper`.

        Raises
        ------
        SpecError
            If a value leaves its range.
        """
        return PaperOnPrinter(
            printer=printer.name,
            profile=profile,
            profile_sha256=profile_sha256,
            black_ink=self.black_ink.value,
            media_type=self.media_type.value,
            feeds=self.feeds.value,
            setup=self.setup.value,
            quality=self.quality.value,
            driver_resolution=self.driver_resolution.value,
            platen_gap=self.platen_gap.value,
            ink_limit_percent=self.ink_limit_percent.value,
        )


LABELS = {
    "name": ("paper", ""),
    "surface": ("surface", ""),
    "white_lab": ("paper white L*a*b*", ""),
    "weight_gsm": ("weight", " g/m²"),
    "thickness_um": ("thickness", " µm"),
    "psf_sigma_um": ("spread", " µm"),
    "drying_h": ("drying time", " h"),
    "sheets": ("sizes kept", ""),
    "setup": ("setup", ""),
    "black_ink": ("black ink", ""),
    "feeds": ("feed paths", ""),
    "media_type": ("media type", ""),
    "quality": ("quality", ""),
    "driver_resolution": ("driver resolution", ""),
    "platen_gap": ("platen gap", ""),
    "ink_limit_percent": ("ink limit", " %"),
}

OF_THE_PAPER = frozenset(list(LABELS)[: list(LABELS).index("setup")])


def _words(value: object, unit: str) -> str:
    if value is None or value in ("", ()):
        return "none"
    if isinstance(value, tuple):
        return ", ".join(
            f"{it:g}" if isinstance(it, float) else str(it) for it in value
        )
    return f"{value:g}{unit}" if isinstance(value, float) else str(value)


GUESSED_WORDS = {
    "surface": "surface",
    "weight_gsm": "weight",
    "thickness_um": "thickness",
    "psf_sigma_um": "spread",
    "black_ink": "black ink",
    "media_type": "media type in the driver",
    "drying_h": "drying time",
}
"""What a paper's note asks to look up where it was guessed."""


def propose_paper(
    quality: ProfileQuality,
    printer: Printer,
    wish: PaperWish | None = None,
    *,
    papers: Sequence[Paper] = (),
    file_stem: str = "",
) -> PaperProposal:
    """
    Propose a paper on a printer from its profile.

    Parameters
    ----------
    quality : ProfileQuality
        Of its profile.
    printer : Printer
        That the profile was made for.
    wish : PaperWish, optional
        What is known; it goes before what is proposed, and what follows from it, such
        as the spread from the surface, follows.
    papers : sequence of Paper, optional
        Those of the book. If one has the name wished for, its own facts stay and only
        a setup is proposed.
    file_stem : str, optional
        Name of the profile's file, for a profile that has none of its own.

    Raises
    ------
    SpecError
        If the wish names an ink or a feed path that the printer does not have, or no
        feed path takes the paper.
    """
    wish = wish or PaperWish()
    name = _given(wish.name) or _name(quality, file_stem)
    same = name.value.strip().casefold()
    known = next((it for it in papers if it.name.casefold() == same), None)
    from_book = GIVEN
    if known is not None:
        wish, from_book = _with_known(wish, known), "the paper book"
        name = Proposed(known.name, from_book)
    said = _said(quality)
    surface = _given(wish.surface, from_book) or _surface(quality, said)
    usual = _USUAL[surface.value]
    weight_gsm = _given(wish.weight_gsm, from_book) or _weight(said, usual)
    thickness_um = _given(wish.thickness_um, from_book) or Proposed(
        round(weight_gsm.value * usual.um_per_gsm, -1),
        f"{usual.um_per_gsm:g} µm for each g/m², as {surface.value} papers have "
        f"({OUR_CHOICE}); look at the maker's sheet",
        is_guess=True,
    )
    black_ink = _black_ink(wish, printer, surface.value, said)
    quality_word = _given(wish.quality) or _named(printer.qualities, said, "qualities")
    return PaperProposal(
        known=known,
        name=name,
        surface=surface,
        white_lab=_given(wish.white_lab, from_book) or _white(quality),
        weight_gsm=weight_gsm,
        thickness_um=thickness_um,
        psf_sigma_um=_given(wish.psf_sigma_um, from_book)
        or Proposed(
            usual.psf_sigma_um,
            f"usual for {surface.value} ({OUR_CHOICE}); a trial sheet measures it",
            is_guess=True,
        ),
        drying_h=_given(wish.drying_h, from_book)
        or Proposed(
            DRYING_H,
            "a day (common practice, no source); look at the maker's sheet",
            is_guess=True,
        ),
        black_ink=black_ink,
        feeds=_feeds(wish, printer, thickness_um.value),
        media_type=_given(wish.media_type)
        or _named(printer.media_types, f"{said} {surface.value}", _MEDIA_TYPES),
        quality=quality_word,
        driver_resolution=_given(wish.driver_resolution)
        or _named(printer.driver_resolutions, said, "resolutions"),
        platen_gap=_given(wish.platen_gap)
        or _named(printer.platen_gaps, said, "platen gaps"),
        ink_limit_percent=Proposed(
            wish.ink_limit_percent,
            GIVEN if wish.ink_limit_percent is not None else "none set",
        ),
        setup=_setup(wish, printer, known, (black_ink.value, quality_word.value)),
        sheets=_sheets(wish),
    )


def _with_known(wish: PaperWish, known: Paper) -> PaperWish:
    """What the book says of the paper itself goes before what is wished."""
    return PaperWish(
        surface=known.surface,
        white_lab=known.white_lab,
        weight_gsm=known.weight_gsm,
        thickness_um=known.thickness_um,
        psf_sigma_um=known.psf_sigma_um,
        drying_h=known.drying_h,
        black_ink=wish.black_ink,
        feeds=wish.feeds,
        media_type=wish.media_type,
        quality=wish.quality,
        driver_resolution=wish.driver_resolution,
        platen_gap=wish.platen_gap,
        ink_limit_percent=wish.ink_limit_percent,
        setup=wish.setup,
    )


def _given(value: _Value | None, source: str = GIVEN) -> Proposed[_Value] | None:
    return None if value is None else Proposed(value, source)


def _said(quality: ProfileQuality) -> str:
    """What the profile says of itself, its name first."""
    facts = quality.facts
    texts = (text for tag, text in facts.texts if tag in {"dmdd", "dmnd"})
    return _plain(" ".join([facts.name, *texts]))


def _plain(text: str) -> str:
    """Lower case, with spaces for the signs between words."""
    return " ".join(re.split(r"[\s_\-/,;:()]+", text)).casefold()


def _name(quality: ProfileQuality, file_stem: str) -> Proposed[str]:
    name = " ".join(quality.facts.name.split())
    if name == NAMELESS and file_stem.strip():
        return Proposed(file_stem.strip(), "the name of the profile's file")
    return Proposed(name[:_LONGEST_NAME].strip(), "the profile's description")


def _surface(quality: ProfileQuality, said: str) -> Proposed[Surface]:
    black_l = quality.black_l
    found = _surface_word(_plain(quality.facts.name)) or _surface_word(said)
    if found is not None:
        surface, word = found
        doubt = ""
        if surface in _MATTE_KINDS and black_l < DEEPEST_MATTE_L:
            doubt = f"; its black (L* {black_l:.0f}) is deeper than such papers get"
        elif surface not in _MATTE_KINDS and black_l > PALEST_GLOSSY_L:
            doubt = f"; its black (L* {black_l:.0f}) is paler than such papers have"
        source = f'the word "{word}" in the profile{doubt}'
        return Proposed(surface, source, is_guess=bool(doubt))
    middle_l = (DEEPEST_MATTE_L + PALEST_GLOSSY_L) / 2
    surface = Surface.MATTE if black_l > middle_l else Surface.SATIN
    side = "paler" if surface is Surface.MATTE else "deeper"
    return Proposed(
        surface,
        f"the profile's darkest black, L* {black_l:.1f}: {side} than {middle_l:g} "
        f"({OUR_CHOICE})",
        is_guess=True,
    )


def _surface_word(said: str) -> tuple[Surface, str] | None:
    for surface, words in _SURFACE_WORDS:
        for word in words:
            if re.search(rf"\b{word}\b", said):
                return surface, word
    return None


def _white(quality: ProfileQuality) -> Proposed[tuple[float, ...] | None]:
    lab = tuple(round(value, 1) + 0.0 for value in quality.facts.white_lab)
    perfect = max(abs(lab[0] - 100), abs(lab[1]), abs(lab[2])) < _PERFECT_LAB
    if perfect or not can_be_white(lab):
        return Proposed(
            None, "the profile does not tell it; measure the bare paper", is_guess=True
        )
    return Proposed(lab, "measured by the profile's maker")


def _weight(said: str, usual: _Usual) -> Proposed[float]:
    """A three-figure number that stands by itself or before g or gsm is a weight."""
    low, high = _WEIGHTS_GSM
    for number in re.findall(r"\b(\d{3})(?:\s?g(?:sm)?)?(?![\w%.])", said):
        if low <= int(number) <= high:
            return Proposed(float(number), "the number in the profile's description")
    return Proposed(
        usual.weight_gsm,
        f"usual for such papers ({OUR_CHOICE}); look at the packet",
        is_guess=True,
    )


def _black_ink(
    wish: PaperWish, printer: Printer, surface: Surface, said: str
) -> Proposed[str]:
    inks = printer.black_inks
    if wish.black_ink is not None:
        _require_known(printer, "black ink", [wish.black_ink], inks)
        return Proposed(wish.black_ink, GIVEN)
    if len(inks) == 1:
        return Proposed(inks[0], "the printer's only one")
    named = [ink for ink in inks if ink.casefold() in said]
    if len(named) == 1:
        return Proposed(named[0], "named in the profile")
    is_matte = surface in _MATTE_KINDS
    wanted = ("matte", "matt") if is_matte else ("photo", "gloss")
    fitting = [ink for ink in inks if any(word in ink.casefold() for word in wanted)]
    if fitting:
        return Proposed(
            fitting[0], f"usual on {surface.value} paper (common practice, no source)"
        )
    return Proposed(inks[0], "the printer's first; check it", is_guess=True)


def _feeds(
    wish: PaperWish, printer: Printer, thickness_um: float
) -> Proposed[tuple[str, ...]]:
    names = [feed.name for feed in printer.feeds]
    if wish.feeds is not None:
        _require_known(printer, "feed path", wish.feeds, names)
        return Proposed(wish.feeds, GIVEN)
    fitting = [
        feed
        for feed in printer.feeds
        if feed.thinnest_um <= thickness_um <= feed.thickest_um
    ]
    # Of a paper that is kept in sheets, or of which no size is said, cut sheets.
    rolls = [roll_width_mm(it) is not None for it in wish.sheets or ()]
    forms = {MediaForm.ROLLS if it else MediaForm.SHEETS for it in rolls}
    of_form = [it for it in fitting if it.takes in (forms or {MediaForm.SHEETS})]
    taking = tuple(feed.name for feed in of_form or fitting)
    if not taking:
        ranges = ", ".join(
            f"{feed.name} {feed.thinnest_um:g} to {feed.thickest_um:g} µm"
            for feed in printer.feeds
        )
        raise SpecError(
            f"No feed path of {printer.name} takes paper of {thickness_um:g} µm "
            f"({ranges}).",
            remedy="Give the thickness of the maker's sheet, or name the feed paths "
            "that take it.",
        )
    return Proposed(taking, f"all that take {thickness_um:g} µm")


def _require_known(
    printer: Printer, what: str, names: Iterable[str], known: Iterable[str]
) -> None:
    known = list(known)
    for name in names:
        if name not in known:
            raise SpecError(
                f'{printer.name} has no {what} "{name}".',
                remedy=did_you_mean(name, known),
            )


def _named(offered: tuple[str, ...], said: str, what: str) -> Proposed[str]:
    """The one of the driver's words that is found in the profile's own, if any."""
    words = set(said.split())
    shared = {
        it: sum(len(word) > 3 and word in words for word in _plain(it).split())
        for it in offered
    }
    most = max(shared.values(), default=0)
    best = [it for it, count in shared.items() if count == most]
    if most and len(best) == 1:
        return Proposed(best[0], "shares its words with the profile", is_guess=True)
    source = f"the driver's own list of {what} has it"
    return Proposed("", source, is_guess=what == _MEDIA_TYPES)


def _setup(
    wish: PaperWish,
    printer: Printer,
    known: Paper | None,
    differences: tuple[str, ...],
) -> Proposed[str]:
    if wish.setup is not None:
        return Proposed(wish.setup, GIVEN)
    taken = (
        set()
        if known is None
        else {it.setup for it in known.on_printer if it.printer == printer.name}
    )
    if not taken:
        return Proposed("", "the only one")
    name = ", ".join(it for it in differences if it)
    number, numbered = 2, name
    while numbered in taken:
        numbered, number = f"{name} {number}", number + 1
    return Proposed(numbered, "black ink and quality, to tell it from the others")


def _sheets(wish: PaperWish) -> Proposed[tuple[str, ...]]:
    if not wish.sheets:
        return Proposed((), "none written down")
    return Proposed(tuple(map(_kept_name, wish.sheets)), GIVEN)


def _kept_name(name: str) -> str:
    """One name of a sheet, or of a roll by its width."""
    width_mm = roll_width_mm(name)
    if width_mm is None:
        return canonical_media_size(name)
    return roll_name(width_mm)


def _stock(name: str) -> Stock:
    width_mm = roll_width_mm(name)
    return Stock(sheet=name) if width_mm is None else Stock(roll_width_mm=width_mm)
