"""How is the key of a trial sheet saved until a patch is picked?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date  # noqa: TC003 - read by its hints
from pathlib import Path
from typing import Final

from printplan.errors import PrintPlanError, RecordError
from printplan.pixels.trials.steps import TrialKey, TrialPatch
from printplan.pixels.trials.targets import DrawnSquares  # noqa: TC001 - read by its hints
from printplan.record.atomic_write import FileHeader, read_text, write_text
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import text_from_value
from printplan.sizing.boxes import Box
from printplan.spec import (
    ColourSpec,  # noqa: TC001 - read by their hints
    SharpenSpec,  # noqa: TC001 - read by their hints
)

TRIAL_HEADER: Final = FileHeader(
    name="printplan trial key",
    version=1,
    heading="What each patch of a trial sheet was. Keep it beside the sheet's file.",
)

_COMMENTS: Final = {
    "on": "day on which the sheet was made",
    "paper": "that it was made for",
    "printer": "that it was made for",
    "squares": "slanted squares, for a scan",
    "patch.name": "as it stands under the patch",
    "patch.window_px": "left, top, width, height in the print's file",
    "patch.on_page_px": "left, top, width, height in the trial's file",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedTrialKey:
    """
    A trial sheet's key, and what it was made for.

    Attributes
    ----------
    paper, printer : str
        Names in the paper book.
    on : datetime.date or None
        Day on which the sheet was made; keys of earlier versions do not say it.
    """

    paper: str
    printer: str
    key: TrialKey
    on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Patch:
    name: str
    label: str
    window_px: tuple[int, ...]
    on_page_px: tuple[int, ...]
    sharpen: SharpenSpec
    colour: ColourSpec

    def __post_init__(self) -> None:
        for box in (self.window_px, self.on_page_px):
            if len(box) != 4:
                raise RecordError(
                    f"The patch {self.name!r} has a box of {len(box)} numbers.",
                    remedy="Give left, top, width and height.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    on: date | None = None
    paper: str
    printer: str
    squares: DrawnSquares | None = None
    patch: tuple[_Patch, ...] | None = None


def write_trial_key(trial: SavedTrialKey, path: str | Path) -> None:
    """
    Write a trial sheet's key into a new file.

    Parameters
    ----------
    path : str or Path
        The name of the sheet's own file with ``.toml`` is easy to find again.

    Raises
    ------
    RecordError
        If the file exists already or cannot be written.
    """
    patches = tuple(
        _Patch(
            name=patch.name,
            label=patch.label,
            window_px=_numbers(patch.window),
            on_page_px=_numbers(patch.on_page),
            sharpen=patch.sharpen,
            colour=patch.colour,
        )
        for patch in trial.key.patches
    )
    layout = _Layout(
        on=trial.on,
        paper=trial.paper,
        printer=trial.printer,
        squares=trial.key.squares,
        patch=patches or None,
    )
    write_text(text_from_value(layout, TRIAL_HEADER, _COMMENTS), path, TRIAL_HEADER)


def read_trial_key(path: str | Path) -> SavedTrialKey:
    """
    Read a trial sheet's key.

    Raises
    ------
    RecordError
        If it cannot be read, or is no key of a trial sheet.
    SpecError
        If a value leaves its range.
    """
    where = str(path)
    table = parse_text(read_text(path), TRIAL_HEADER, where=where)
    layout = value_from_table(_Layout, table, where=where)
    patches = tuple(
        TrialPatch(
            name=patch.name,
            label=patch.label,
            window=Box(*patch.window_px),
            on_page=Box(*patch.on_page_px),
            sharpen=patch.sharpen,
            colour=patch.colour,
        )
        for patch in layout.patch or ()
    )
    return SavedTrialKey(
        paper=layout.paper,
        printer=layout.printer,
        key=TrialKey(patches=patches, squares=layout.squares),
        on=layout.on,
    )


def trial_keys_in(
    folder: str | Path,
) -> tuple[tuple[tuple[Path, SavedTrialKey], ...], tuple[PrintPlanError, ...]]:
    """
    The keys of trial sheets that lie in a folder.

    Returns
    -------
    tuple of (Path, SavedTrialKey)
        Newest first, by when they were written.
    tuple of PrintPlanError
        Why others that name themselves keys cannot be read.

    Raises
    ------
    RecordError
        If the folder cannot be read.
    """
    found: list[tuple[int, Path, SavedTrialKey]] = []
    problems: list[PrintPlanError] = []
    try:
        paths = [it for it in Path(folder).iterdir() if it.suffix == ".toml"]
    except OSError as error:
        raise RecordError(
            f"The folder {folder} cannot be read ({error.strerror or error}).",
            remedy="Choose another folder, or check that you may read this one.",
        ) from error
    for path in paths:
        try:
            written_ns, text = path.stat().st_mtime_ns, read_text(path)
        except (OSError, RecordError):  # a folder, or no text: no key at any rate
            continue
        if TRIAL_HEADER.name not in text:
            continue
        try:
            found.append((written_ns, path, read_trial_key(path)))
        except PrintPlanError as error:
            problems.append(error)
    found.sort(reverse=True, key=lambda it: it[:2])
    return tuple((path, key) for _, path, key in found), tuple(problems)


def _numbers(box: Box) -> tuple[int, ...]:
    return box.left, box.top, box.width, box.height
