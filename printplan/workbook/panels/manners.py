"""How do stock controls get names, units and keys of their own in the browser?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import anywidget
import traitlets

if TYPE_CHECKING:
    import ipywidgets as widgets


class Manners(anywidget.AnyWidget):
    """
    Something unseen in a panel that tends the other controls there.

    It names slider handles by their labels and says their values with units, marks
    switches as pressed or not, gives pictures their descriptions, lets fold-outs be
    opened by key, and keeps the notebook from taking keys that are meant for a
    control. It touches nothing outside its own panel.

    Parameters
    ----------
    title : str
        What the panel is called.

    Attributes
    ----------
    described : dict of str to str
        Description of each picture by its mark.
    otherwise : str
        Description of all other pictures.

    Notes
    -----
    Stock controls (ipywidgets 8.1) have none of this; a key pressed on one reaches
    the notebook's own shortcuts, which move the cell selection or insert cells.
    """

    _esm: ClassVar[Path] = Path(__file__).with_name("manners.js")

    title = traitlets.Unicode().tag(sync=True)
    described = traitlets.Dict().tag(sync=True)
    otherwise = traitlets.Unicode().tag(sync=True)

    def __init__(self, title: str) -> None:
        super().__init__(title=title, otherwise=title)

    def describe(self, picture: widgets.Image, words: str) -> None:
        """
        Say what a picture shows, for those who do not see it.

        Parameters
        ----------
        picture : ipywidgets.Image
        words : str
        """
        mark = f"printplan-picture-{picture.model_id}"
        if mark not in self.described:
            picture.add_class(mark)
        if self.described.get(mark) != words:
            self.described = self.described | {mark: words}
