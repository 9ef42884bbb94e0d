"""How is a photograph chosen from its folder by what it looks like?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from printplan.foreign_file import is_regular
from printplan.workbook.panels.controls import show_if
from printplan.workbook.panels.file_chooser import FileChooser
from printplan.workbook.panels.master import MASTER_ENDINGS
from printplan.workbook.panels.picture_list import PictureList
from printplan.workbook.pictures import problem_html

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


class PhotoChooser(FileChooser):
    """
    A path to type, and the photographs of its folder to pick from.

    A photograph that is picked or typed is the chosen one; a folder that is picked is
    gone into.

    Parameters
    ----------
    folder : Path
        Where to begin.
    changed : callable
        Told when another photograph is chosen, or none.
    places : sequence of (str, Path), optional
        Folders that are one choice away, with their names.

    Attributes
    ----------
    pictures : PictureList
        What the folder holds.
    """

    def __init__(
        self,
        *,
        folder: Path,
        changed: Callable[[], None],
        places: Sequence[tuple[str, Path]] = (),
    ) -> None:
        self._changed = changed
        self._was: Path | None = None
        self.pictures = PictureList(
            "photographs and folders", form="tiles", picked=self._pick
        )
        super().__init__(
            "photograph",
            act="Open this folder",
            endings=MASTER_ENDINGS,
            folder=folder,
            chosen=lambda _: None,
            places=places,
        )
        self.path.tooltip = (
            "Path of the photograph: TIFF, PNG or JPEG; or pick it below"
        )
        self.ui.children = [
            self.pictures if it is self.entries else it for it in self.ui.children
        ]

    @property
    def selected(self) -> Path | None:
        """The chosen photograph, if there is such a file."""
        path = self._typed_path(self.path.value)
        return path if self.path.value.strip() and is_regular(path) else None

    def _pick(self, key: str) -> None:
        if key.endswith("/"):
            self._walk(Path(key))
            return
        if Path(key).parent == self._folder:
            self._on_picked(Path(key).name)

    def _key(self, name: str) -> str:
        """A name's whole path, with the slash that marks a folder."""
        return f"{str(self._folder).rstrip('/')}/{name}"

    def _list(self, folder: Path) -> bool:
        if not super()._list(folder):
            return False
        keys = [self._key(name) for name in self.entries.options]
        self.pictures.show(
            [(key, Path(key).name, "") for key in keys],
            {key: Path(key) for key in keys if not key.endswith("/")},
        )
        return True

    def _follow(self, path: Path) -> None:
        super()._follow(path)
        name = self.entries.value
        self.pictures.value = "" if name is None else self._key(name)
        selected = self.selected
        show_if(selected is None, self.go)
        problem = self.pictures.problems.get(self.pictures.value)
        if problem is not None:
            self.note.value = problem_html(problem)
        elif selected is not None:
            self.note.value = ""
        if selected != self._was:
            self._was = selected
            self._changed()
