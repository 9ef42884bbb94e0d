"""How many pixels of this screen make a millimetre, matched once and remembered?"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import platformdirs

from printplan.errors import RecordError, SpecError
from printplan.foreign_file import is_there
from printplan.own_folders import own_folder
from printplan.record.atomic_write import FileHeader, read_text, write_text
from printplan.record.lock_file import locked
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import text_from_value

CARD_MM = (85.60, 53.98)
"""Width and height of an ID-1 card, nominal (ISO/IEC 7810)."""

CARD_CORNER_MM = 3.18
"""Radius of its corners, nominal (ISO/IEC 7810; from memory)."""

LOWEST_PX_PER_MM, HIGHEST_PX_PER_MM = 1.0, 60.0
"""Device pixels per millimetre that a screen can have: from a wall of light-emitting
diodes to twice the densest telephone. Our choice, to catch a slip."""

_SAME_SCREEN_PX = 4
"""A browser's zoom rounds a screen's size by so many device pixels at most."""

SCREENS_KIND: Final = FileHeader(
    name="printplan screens",
    version=1,
    heading="Screens that were matched to a card of 85.60 × 53.98 mm, so that a print\n"
    "is shown at its true size.",
)

_COMMENTS = {
    "screens.width_px": "size of the screen in its own pixels",
    "screens.device_px_per_mm": "its own pixels, whatever the browser's zoom",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedScreen:
    """
    One screen and its density.

    Attributes
    ----------
    width_px, height_px : int
        The whole screen in device pixels, by which it is known again.
    """

    width_px: int
    height_px: int
    device_px_per_mm: float

    def __post_init__(self) -> None:
        if min(self.width_px, self.height_px) < 1:
            raise SpecError(
                f"The screen has {self.width_px} × {self.height_px} pixels.",
                remedy="Match it again in a loupe.",
            )
        if not LOWEST_PX_PER_MM <= self.device_px_per_mm <= HIGHEST_PX_PER_MM:
            raise SpecError(
                f"The screen would have {self.device_px_per_mm:g} device pixels per "
                f"mm; from {LOWEST_PX_PER_MM:g} to {HIGHEST_PX_PER_MM:g} are taken.",
                remedy="Lay the card flat on the screen and make the outline as wide; "
                "most screens have 3.5 to 10.",
            )

    def is_of(self, width_px: int, height_px: int) -> bool:
        """Whether a screen of that size is taken for this one."""
        return (
            abs(self.width_px - width_px) <= _SAME_SCREEN_PX
            and abs(self.height_px - height_px) <= _SAME_SCREEN_PX
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedScreens:
    """All screens that were matched."""

    screens: tuple[MatchedScreen, ...] = ()


def screens_path() -> Path:
    """
    Where matched screens are remembered.

    Returns
    -------
    Path
        ``screens.toml`` in the folder that ``PRINTPLAN_CONFIG`` of the environment
        names, or else in the user's own configuration folder.
    """
    named = os.environ.get("PRINTPLAN_CONFIG", "")
    folder = Path(named) if named else own_folder(platformdirs.user_config_path)
    return folder / "screens.toml"


def matched_screens() -> MatchedScreens:
    """
    The screens that were matched so far.

    Returns
    -------
    MatchedScreens
        None of them if there is no file yet.

    Raises
    ------
    RecordError
        If the file cannot be read, or is not one of ours.
    """
    path = screens_path()
    if not is_there(path):
        return MatchedScreens()
    table = parse_text(read_text(path), SCREENS_KIND, where=str(path))
    return value_from_table(MatchedScreens, table, where=str(path))


def remember_match(screen: MatchedScreen) -> MatchedScreens:
    """
    Keep the density of a screen, in place of what was known of it.

    Returns
    -------
    MatchedScreens
        All, as they are in the file now.

    Raises
    ------
    RecordError
        If the file cannot be read or written; then it is as it was.
    """
    path = screens_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"The folder {path.parent} cannot be made ({error.strerror or error}).",
            remedy="Set PRINTPLAN_CONFIG to a folder that you may write to.",
        ) from error
    with locked(path) as permitted:
        others = tuple(
            known
            for known in matched_screens().screens
            if not known.is_of(screen.width_px, screen.height_px)
        )
        screens = MatchedScreens(screens=(*others, screen))
        text = text_from_value(screens, SCREENS_KIND, _COMMENTS)
        written = write_text(
            text, path, SCREENS_KIND, overwrite=True, permitted=permitted
        )
    if not written:
        raise RecordError(
            f"{path} was being changed by another program for too long.",
            remedy="Save the match again.",
        )
    return screens
