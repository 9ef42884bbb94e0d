"""Which name does the next file get?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets as widgets

from printplan.workbook.bench import free_path
from printplan.workbook.panels.controls import CONTROL

if TYPE_CHECKING:
    from collections.abc import Callable


class FreeName:
    """
    A name to type, or the next one that is free.

    Parameters
    ----------
    folder : callable
        Gives the folder that the file goes to.
    stem, ending : str
        What is wanted at first.

    Attributes
    ----------
    ui : ipywidgets.Text
    """

    def __init__(self, folder: Callable[[], Path], stem: str, ending: str) -> None:
        self._folder = folder
        self._ending = ending
        self.ui = widgets.Text(
            description="file name", continuous_update=False, **CONTROL
        )
        self.want(stem)
        self.ui.observe(lambda change: self._on_typed(change["new"]), names="value")

    @property
    def path(self) -> Path:
        """Where the file goes."""
        return self._folder().joinpath(self.ui.value)

    def want(self, stem: str) -> None:
        """
        Ask for a name.

        Parameters
        ----------
        stem : str
            Without its ending.
        """
        self._wanted = f"{stem}{self._ending}"
        self.suggest()

    def suggest(self) -> None:
        """Show the name that is wanted, or the next of it that is free."""
        self._suggested = free_path(self._folder() / self._wanted).name
        self.ui.value = self._suggested

    def end(self, ending: str) -> None:
        """
        Give the file another ending; one that was typed stays while this is the same.

        Parameters
        ----------
        ending : str
            With its dot.
        """
        if ending != self._ending:
            self._ending = ending
            self.want(Path(self._wanted).stem)

    def _on_typed(self, name: str) -> None:
        if name != self._suggested:
            self._wanted = name
