"""Which fields does a paper have, what is proposed in them, and what was typed?"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from printplan.errors import SpecError
from printplan.media import Surface
from printplan.record.paper_proposal import LABELS
from printplan.shown_text import escape
from printplan.workbook.panels.controls import CONTROL, choice, line, text

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.media import Printer
    from printplan.record.paper_book import PaperBook
    from printplan.record.paper_proposal import Proposed

_BETWEEN = ";"
"""Between sizes: names of sizes hold commas and spaces."""

_TIPS = {
    "name": "What the paper is called; the name of one in the book adds a setup to it",
    "surface": "Decides spread, black ink and what black to expect",
    "white_lab": "L*, a*, b* of the bare paper; a measurement of yours goes before",
    "weight_gsm": "On the packet; heavier paper is usually thicker",
    "thickness_um": "On the maker's sheet, 1 mm = 1000 µm; decides the feed paths",
    "psf_sigma_um": "How far ink and light spread; larger asks for more sharpening",
    "drying_h": "Hours before stacking, framing or shipping",
    "sheets": f"Sizes that you keep, with {_BETWEEN} between: A4{_BETWEEN} 24 in roll",
    "setup": "Tells several setups of this paper on one printer apart",
    "black_ink": "The black that the driver prints with on this paper",
    "feeds": "Ways in that take this paper; several with the control or command key",
    "media_type": "What the driver's own list calls this paper; it sets the ink",
    "quality": "What the driver calls the quality that the profile was made with",
    "driver_resolution": "What the driver calls the resolution of the profile",
    "platen_gap": "What the driver calls the distance of the head from the paper",
    "ink_limit_percent": "Greatest total of all inks, if the driver has such a setting",
}


class ProposedField:
    """
    One value of a paper, with its source beside it.

    Attributes
    ----------
    key : str
        Its name in a `PaperWish`.
    ui : ipywidgets.HBox
        Control and source.
    """

    def __init__(
        self,
        key: str,
        control: Any,
        *,
        shown: Callable[[Any], Any],
        read: Callable[[Any], Any],
        offered: Callable[[PaperBook, Printer], tuple[str, ...]] | None = None,
    ) -> None:
        self.key, self.control = key, control
        self._shown, self._read, self._offered = shown, read, offered
        control.tooltip = _TIPS[key]
        # Names are long: their source stands below them.
        control.layout.flex = "1 1 100%" if key == "name" else "0 1 300px"
        self.source = text()
        self.source.layout.flex = "1 1 200px"
        self.source.layout.margin = "2px 4px"
        self.ui = widgets.HBox(
            [control, self.source], layout={"flex_flow": "row wrap", "min_width": "0"}
        )

    def when_typed(self, act: Callable[..., None]) -> None:
        """Be told when the user changes it."""
        self.control.observe(act, names="value")

    def offer(self, book: PaperBook, printer: Printer) -> None:
        """Offer what book and printer have for it."""
        if self._offered is not None:
            offered = self._offered(book, printer)
            if tuple(self.control.options) != offered:
                self.control.options = offered

    def show(self, proposed: Proposed[Any]) -> None:
        """Show a value and where it comes from."""
        self.control.value = self._shown(proposed.value)
        mark = "<b>Look it up:</b> " if proposed.is_guess else ""
        self.source.value = f"{mark}{escape(proposed.source)}"

    def read(self) -> Any:
        """
        What is wished for; None if it is left to be proposed.

        Raises
        ------
        SpecError
            If a number is none.
        """
        try:
            return self._read(self.control.value)
        except ValueError as error:
            label, _ = LABELS[self.key]
            raise SpecError(
                f"{label}: {self.control.value!r} is no number.",
                remedy='Type a number such as "300", or empty the field.',
            ) from error


def proposed_fields() -> dict[str, ProposedField]:
    """The fields of a paper and its setup, by their names in a `PaperWish`."""
    fields = (
        _words("name", lambda book, _: tuple(it.name for it in book.papers)),
        ProposedField(
            "surface",
            choice("surface", [(str(it), it) for it in Surface]),
            shown=lambda surface: surface,
            read=lambda surface: surface,
        ),
        ProposedField(
            "white_lab",
            line("white L*; a*; b*"),
            shown=lambda lab: "" if lab is None else _numbers_words(lab),
            read=lambda typed: _numbers(typed) or None,
        ),
        *(
            _number(key)
            for key in ("weight_gsm", "thickness_um", "psf_sigma_um", "drying_h")
        ),
        ProposedField(
            "sheets",
            line(LABELS["sheets"][0]),
            shown=f"{_BETWEEN} ".join,
            read=_sizes,
        ),
        ProposedField(
            "black_ink",
            widgets.Dropdown(description="black ink", options=[], **CONTROL),
            shown=lambda ink: ink,
            read=lambda ink: ink or None,
            offered=lambda _, printer: printer.black_inks,
        ),
        ProposedField(
            "feeds",
            widgets.SelectMultiple(
                description="feed paths", options=[], rows=3, **CONTROL
            ),
            shown=tuple,
            read=lambda names: tuple(names) or None,
            offered=lambda _, printer: tuple(feed.name for feed in printer.feeds),
        ),
        _words("media_type", lambda _, printer: printer.media_types),
        _words("quality", lambda _, printer: printer.qualities),
        _words("driver_resolution", lambda _, printer: printer.driver_resolutions),
        _words("platen_gap", lambda _, printer: printer.platen_gaps),
        _number("ink_limit_percent"),
        ProposedField(
            "setup",
            line("setup"),
            shown=lambda words: words,
            read=lambda typed: typed.strip() or None,
        ),
    )
    return {field.key: field for field in fields}


def _words(
    key: str, offered: Callable[[PaperBook, Printer], tuple[str, ...]]
) -> ProposedField:
    """Words of one's own, or one of those offered."""
    return ProposedField(
        key,
        widgets.Combobox(
            description=LABELS[key][0], continuous_update=False, options=[], **CONTROL
        ),
        shown=lambda words: words,
        read=lambda typed: typed.strip() or None,
        offered=offered,
    )


def _number(key: str) -> ProposedField:
    label, unit = LABELS[key]
    return ProposedField(
        key,
        line(f"{label} ({unit.strip()})"),
        shown=lambda number: "" if number is None else f"{number:g}",
        read=partial(_number_or_none),
    )


def _number_or_none(typed: str) -> float | None:
    return float(typed.replace(",", ".")) if typed.strip() else None


def _numbers_words(numbers: tuple[float, ...]) -> str:
    return f"{_BETWEEN} ".join(f"{it:g}" for it in numbers)


def _numbers(typed: str) -> tuple[float, ...]:
    return tuple(float(it) for it in typed.replace(_BETWEEN, " ").split())


def _sizes(typed: str) -> tuple[str, ...] | None:
    return tuple(it.strip() for it in typed.split(_BETWEEN) if it.strip()) or None
