"""What is shown of many prints: which of the ways to make them?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from printplan.workbook.panels.controls import switch
from printplan.workbook.panels.family import FamilyPanel
from printplan.workbook.panels.nest import NestPanel
from printplan.workbook.panels.price import PricePanel
from printplan.workbook.panels.run import RunPanel

if TYPE_CHECKING:
    from collections.abc import Callable


class ManyView:
    """
    The ways to make many prints, of which one is shown.

    Parameters
    ----------
    folder : str or Path
        The studio's.

    Attributes
    ----------
    ui : ipywidgets.VBox
        What the page shows.
    way : ipywidgets.ToggleButtons
        Which is shown.
    """

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder).absolute()
        self._make: dict[str, Callable[[Path], Any]] = {
            "a table of prints": RunPanel,
            "nested on a roll or sheet": NestPanel,
            "one photograph in several sizes": FamilyPanel,
            "prices": PricePanel,
        }
        self._panels: dict[str, Any] = {}
        self.way = switch("", [(it, it) for it in self._make])
        self.way.tooltip = "What to do with many prints"
        self._shown = widgets.VBox()
        self.ui = widgets.VBox([self.way, self._shown])
        self.way.observe(lambda _: self._show(), names="value")
        self._show()

    @property
    def panel(self) -> Any:
        """What is shown now, made when it is first looked at."""
        way = self.way.value
        if way not in self._panels:
            self._panels[way] = self._make[way](self.folder)
        return self._panels[way]

    def refresh(self) -> None:
        """Read anew what is shown."""
        self.panel.refresh()

    def _show(self) -> None:
        self._shown.children = [self.panel.ui]
