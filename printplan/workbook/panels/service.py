"""Who makes the print, what does a service take, and what does its file have to be?"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from printplan.errors import PrintPlanError, SpecError
from printplan.pixels.picture_file import QUALITY
from printplan.record.service_plan import with_exact_px
from printplan.shown_text import escape
from printplan.spec import Extent, FileFormat
from printplan.workbook.panels.controls import (
    CONTROL,
    LengthSlider,
    acts,
    choice,
    line,
    offer,
    show_if,
    text,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from printplan.plan import PrintPlan
    from printplan.spec import DeliverySpec, PrintSpec
    from printplan.workbook.bench import Bench
    from printplan.workbook.panels.controls import Control

_STUDIO = ("", "")
_WIDEST_BLEED_MM = 10.0
"""Of the slider; a wider one in a plan widens it. Our choice."""
_PIXELS = re.compile(r"\s*(\d{1,6})\s*(?:×|x|X|\*|,)\s*(\d{1,6})\s*(?:px)?\s*")


PLAIN: dict[str, Any] = {
    "jpeg_quality": None,
    "exact_width_px": None,
    "exact_height_px": None,
    "bleed_mm": 0.0,
}
"""A delivery of which nothing is said here, as any kind of file can have it."""


class ServiceControls:
    """
    The controls of a print that a service makes, for the panel of the file.

    Attributes
    ----------
    maker : ipywidgets.Dropdown
        A printer of the studio, or a service's paper.
    limits : ipywidgets.HTML
        What that service takes.
    quality : ipywidgets.BoundedIntText
    bleed : LengthSlider
    exact : ipywidgets.Text
        ``width × height`` in pixels; empty where size and resolution decide.
    order : ipywidgets.Button
        Makes the folder to be sent.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._before: PrintPlan | None = None
        self.maker = choice("made by", [("a printer of the studio", _STUDIO)])
        self.maker.tooltip = "A print service of the paper book, and its paper"
        self.limits = text()
        self.quality = widgets.BoundedIntText(
            description="JPEG quality",
            min=1,
            max=100,
            continuous_update=False,
            tooltip="On libjpeg's scale; 95 where a plan says nothing",
            **CONTROL,
        )
        self.bleed = LengthSlider("bleed", 0.0, _WIDEST_BLEED_MM)
        self.exact = line(
            "exact pixels",
            placeholder="such as 3000 × 2000",
            tooltip="Pixels that the file has to have: the resolution follows; empty: "
            "by size and resolution",
        )

        self.order = widgets.Button(
            description="Deliver this print",
            tooltip="A new folder beside the plan: the file, its checksum, the order "
            "sheet",
        )

    def around(self, kind: Sequence[Control], name: Control) -> list[Control]:
        """These controls with the file's kind and name between them."""
        first = (self.maker, self.limits)
        return [*first, *kind, *self.wishes, name, acts(self.order)]

    @property
    def wishes(self) -> tuple[Control, ...]:
        """Those that change the plan's delivery."""
        return self.quality, self.bleed, self.exact

    @property
    def is_ordered(self) -> bool:
        """Whether a service makes the print."""
        return self._bench.printer.service is not None

    def spec(self, spec: PrintSpec, delivery: DeliverySpec) -> PrintSpec:
        """
        The spec with what is said here.

        Raises
        ------
        SpecError
            If what is typed is no number of pixels.
        """
        is_jpeg = delivery.file_format is FileFormat.JPEG
        quality = self.quality.value
        is_picture = delivery.extent is Extent.PICTURE
        said = replace(
            delivery,
            jpeg_quality=quality if is_jpeg and quality != QUALITY else None,
            bleed_mm=self.bleed.value_mm if is_picture else 0.0,
        )
        spec = replace(spec, delivery=said)
        typed = self.exact.value.strip()
        if not typed or not is_picture:
            if self._bench.spec.delivery.exact_width_px is not None:
                ppi = self._bench.printer.input_ppi[0]  # no longer that of the pixels
                spec = replace(spec, size=replace(spec.size, ppi=ppi))
            return spec
        found = _PIXELS.fullmatch(typed)
        if found is None:
            raise SpecError(
                f"“{typed}” is no number of pixels.",
                remedy="Type width × height, such as 3000 × 2000, or nothing.",
            )
        return with_exact_px(self._bench.plan, spec, int(found[1]), int(found[2]))

    def change_maker(self) -> Callable[[], Any] | None:
        """What to do with the bench for the maker that is chosen; None for nothing."""
        bench = self._bench
        paper, printer = self.maker.value
        now = (bench.paper.name, bench.printer.name)
        if (paper, printer) == (now if self.is_ordered else _STUDIO):
            return None
        if (paper, printer) != _STUDIO:
            if not self.is_ordered:
                self._before = bench.plan
            return lambda: bench.change_paper(paper, printer=printer)
        return self._go_back

    def _go_back(self) -> None:
        """To the paper and sheet of before, or to the first of the studio's."""
        bench, before = self._bench, self._before
        if before is None:
            name, by = self._first_of_studio()
            bench.change_paper(name, printer=by)
            return
        bench.change_paper(before.paper.name, printer=before.printer.name)
        old = before.spec
        bench.ask(replace(bench.spec, sheet=old.sheet, delivery=old.delivery))

    def _first_of_studio(self) -> tuple[str, str]:
        for paper in self._bench.book.papers:
            if paper.in_use and paper.on_printer:
                return paper.name, paper.on_printer[0].printer
        raise SpecError(
            "The paper book has no paper of the studio's own.",
            remedy="Add a printer and a paper first.",
        )

    def sync(self) -> None:
        """Show what the plan says."""
        bench = self._bench
        delivery = bench.spec.delivery
        service = bench.printer.service
        offered = [("a printer of the studio", _STUDIO)]
        if bench.files is not None:
            try:
                services = bench.book.services
            except PrintPlanError:  # the panel of paper and printer says why
                services = ()
            offered += [
                (f"{it.name}: {paper.name}", (paper.name, it.name))
                for it in services
                for paper in it.papers
                if it.in_use
            ]
        now = (bench.paper.name, bench.printer.name)
        if service is not None and now not in [it for _, it in offered]:
            offered.append((f"{service.name}: {bench.paper.name}", now))
        offer(self.maker, offered, now if service is not None else _STUDIO)
        if self.maker.value != (now if service is not None else _STUDIO):
            self.maker.value = now if service is not None else _STUDIO
        self.limits.value = (
            "" if service is None else f"<p>It takes {escape(service.words)}.</p>"
        )
        self.quality.value = delivery.jpeg_quality or QUALITY
        self.bleed.show_length(delivery.bleed_mm, bench.spec.lengths_in)
        width_px, height_px = delivery.exact_width_px, delivery.exact_height_px
        self.exact.value = "" if width_px is None else f"{width_px} × {height_px}"
        is_picture = delivery.extent is Extent.PICTURE
        show_if(len(offered) > 1, self.maker)
        show_if(service is not None, self.limits)
        show_if(delivery.file_format is FileFormat.JPEG, self.quality)
        show_if(is_picture, self.bleed.box, self.exact)
