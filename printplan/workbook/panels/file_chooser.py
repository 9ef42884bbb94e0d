"""How is a file on this computer chosen by its path, without uploading it?"""

from __future__ import annotations

import os
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from printplan.errors import SpecError
from printplan.foreign_file import is_regular, is_there
from printplan.own_folders import expanded
from printplan.shown_text import escape
from printplan.workbook.panels.controls import CONTROL, acts, choice, text

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Sequence


MOST_SHOWN = 400
"""Names of a folder that are offered; the rest is reached by typing. Our choice."""

_ELSEWHERE = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """
    What a folder holds that can be chosen.

    Attributes
    ----------
    folder : Path
        Absolute.
    folders, files : tuple of str
        Names, sorted as people read them, without hidden ones.
    left_out : int
        Names that are not offered: more than `MOST_SHOWN`, or such as a page cannot
        show.
    """

    folder: Path
    folders: tuple[str, ...]
    files: tuple[str, ...]
    left_out: int = 0


def list_folder(folder: Path, endings: Collection[str]) -> Listing:
    """
    What a folder holds that can be chosen.

    Parameters
    ----------
    endings : collection of str
        Of the files wanted, in lower case, each with its dot.

    Raises
    ------
    SpecError
        If there is no such folder, or it cannot be read.
    """
    folders, files = [], []
    try:
        for entry in os.scandir(folder):
            if entry.name.startswith("."):
                continue
            if entry.is_dir():
                folders.append(entry.name)
            elif Path(entry.name).suffix.lower() in endings:
                files.append(entry.name)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise SpecError(
            f"The folder {folder} cannot be read ({reason}).",
            remedy="Choose another folder, or check that you may read this one.",
        ) from error
    shown = [
        sorted(filter(_can_show, names), key=str.casefold) for names in (folders, files)
    ]
    kept_folders = shown[0][:MOST_SHOWN]
    kept_files = shown[1][: MOST_SHOWN - len(kept_folders)]
    return Listing(
        folder=folder.absolute(),
        folders=tuple(kept_folders),
        files=tuple(kept_files),
        left_out=len(folders) + len(files) - len(kept_folders) - len(kept_files),
    )


def _can_show(name: str) -> bool:
    """Whether a name is text: old disks hold names in unknown encodings."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True


class FileChooser:
    """
    A path to type, with what its folder holds, and a list to walk through folders.

    Nothing is chosen until the button is pressed, or Enter in the path.

    Parameters
    ----------
    label : str
        What is chosen.
    act : str
        What the button does with a file.
    endings : collection of str
        Of the files that are listed; a path typed in full may end as it likes.
    folder : Path
        Where to begin.
    chosen : callable
        Takes the path of the file.
    places : sequence of (str, Path), optional
        Folders that are one choice away, with their names.
    """

    def __init__(  # noqa: PLR0913 - what, where from, and what for
        self,
        label: str,
        *,
        act: str,
        endings: Collection[str],
        folder: Path,
        chosen: Callable[[Path], None],
        places: Sequence[tuple[str, Path]] = (),
    ) -> None:
        self._act = act
        self._endings = frozenset(endings)
        self._chosen = chosen
        self._folder = folder.absolute()
        self._is_showing = False
        self._listed = ""
        self.path = widgets.Combobox(description=label, **CONTROL)
        self.entries = widgets.Select(
            description="folder", rows=6, options=[], **CONTROL
        )
        self.places = choice(
            "go to",
            [
                ("the folder below", _ELSEWHERE),
                *[(name, str(it)) for name, it in places],
            ],
        )
        self.up = widgets.Button(description="Parent folder")
        self.go = widgets.Button(description=act, button_style="primary")
        self.path.tooltip = "Its path on this computer: typed, or picked below"
        self.entries.tooltip = "What the folder holds; arrow keys move through it"
        self.places.tooltip = "Folders to begin in"
        self.up.tooltip = "Go to the folder that this one lies in"
        self.go.tooltip = "Go into the folder that is typed or picked, or take the file"
        self.note = text()
        self.path.observe(lambda change: self._on_typed(change["new"]), names="value")
        self.entries.observe(
            lambda change: self._on_picked(change["new"]), names="value"
        )
        self.path.on_msg(self._on_message)
        self.places.observe(lambda change: self._go_to(change["new"]), names="value")
        self.up.on_click(lambda _: self._walk(self._folder.parent))
        self.go.on_click(lambda _: self.act())
        before = [self.places] if places else []
        self.ui = widgets.VBox(
            [*before, self.path, self.entries, acts(self.up, self.go), self.note]
        )
        self._walk(self._folder)

    @property
    def folder(self) -> Path:
        """The folder that is listed."""
        return self._folder

    def show(self, path: Path) -> None:
        """Show a file in its folder without choosing it."""
        if path.parent != self._folder:
            self._list(path.parent)
        self._write(str(path))
        self._follow(path)

    def refresh(self) -> None:
        """List the folder as it is now; what is typed stays."""
        if self._list(self._folder):
            self._follow(self._typed_path(self.path.value))

    def act(self) -> None:
        """Go into the folder that the path names, or choose its file."""
        path = self._typed_path(self.path.value)
        if path.is_dir():
            self._walk(path)
        elif is_regular(path):
            self._chosen(path)
        else:
            self._say(self._wrong(path))

    @contextmanager
    def _quietly(self) -> Iterator[None]:
        """Show something without taking it for the user's doing."""
        self._is_showing = True
        try:
            yield
        finally:
            self._is_showing = False

    def _typed_path(self, typed: str) -> Path:
        return self._folder / expanded(typed.strip())

    def _on_typed(self, typed: str) -> None:
        if self._is_showing:
            return
        path = self._typed_path(typed)
        ended = typed.endswith(("/", os.sep))
        folder = path if ended else path.parent
        if folder != self._folder and folder.is_dir():
            self._list(folder)
        self._follow(path)

    def _on_picked(self, name: str | None) -> None:
        if self._is_showing or name is None:
            return
        path = self._folder / name
        self._write(f"{path}{os.sep}" if name.endswith("/") else str(path))
        self._follow(path)

    def _go_to(self, place: str) -> None:
        if place != _ELSEWHERE and not self._is_showing:
            self._walk(Path(place))

    def _on_message(self, _: Any, content: dict[str, Any], __: Any) -> None:
        if content.get("event") == "submit":
            self.act()

    def _walk(self, folder: Path) -> None:
        if self._list(folder):
            self._write(f"{str(self._folder).rstrip(os.sep)}{os.sep}")
            self._follow(self._folder)

    def _list(self, folder: Path) -> bool:
        """List a folder; if it cannot be read, say so and stay."""
        try:
            found = list_folder(folder, self._endings)
        except SpecError as error:
            self._say(f"{escape(error.problem)} <b>{escape(error.remedy)}</b>")
            return False
        self._folder = found.folder
        with self._quietly():
            here = str(self._folder)
            known = [place for _, place in self.places.options]
            self.places.value = here if here in known else _ELSEWHERE
        names = [f"{name}/" for name in found.folders] + list(found.files)
        with self._quietly():
            self.entries.options = names
            self.entries.value = None
            self.path.options = [os.path.join(self._folder, name) for name in names]  # noqa: PTH118 - keeps the slash that marks a folder
        self._listed = self._said(found)
        self._say(self._listed)
        return True

    def _say(self, html: str) -> None:
        self.note.value = f'<div role="status">{html}</div>' if html else ""

    def _said(self, found: Listing) -> str:
        if found.left_out:
            return (
                f"{found.left_out} more names are not listed here; type the path of "
                "such a file."
            )
        if not found.files:
            return f"No file here ends in {self._kinds}."
        return ""

    def _write(self, typed: str) -> None:
        with self._quietly():
            self.path.value = typed

    def _follow(self, path: Path) -> None:
        """Let list and button say what the path is."""
        names = self.entries.options
        name = next((it for it in (path.name, f"{path.name}/") if it in names), None)
        inside = path.parent == self._folder
        with self._quietly():
            self.entries.value = name if inside else None
        is_folder = path.is_dir()
        found = is_folder or is_regular(path)
        self.go.disabled = not found or path == self._folder
        self.go.description = "Open this folder" if is_folder else self._act
        self._say(self._wrong(path) or self._listed)

    def _wrong(self, path: Path) -> str:
        """What is wrong with a path that is typed or picked; empty if nothing is."""
        name = escape(path.name)
        if path.is_dir():
            return ""
        if is_regular(path):
            if path.suffix.lower() in self._endings:
                return ""
            return f"“{name}” does not end in {self._kinds}; it may be another kind."
        if is_there(path):
            return f"“{name}” is neither a file nor a folder. <b>Choose another.</b>"
        if not path.parent.is_dir():
            return (
                f"There is no folder “{escape(str(path.parent))}”. <b>Check its name; "
                "a disk may not be connected.</b>"
            )
        return f"There is no “{name}” in this folder. <b>Pick one of its list.</b>"

    @property
    def _kinds(self) -> str:
        return " or ".join(sorted(self._endings))
