"""Where do the things of a studio lie?"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from printplan.errors import RecordError, writing_remedy
from printplan.foreign_file import is_regular

BOOK_NAME: Final = "paper-book.toml"
JOURNAL_NAME: Final = "journal.db"
MASTERS_FOLDER: Final = "masters"
PROFILES_FOLDER: Final = "profiles"
"""Profiles from elsewhere are copied there, so that the studio can move."""
JOBS_FOLDER: Final = "jobs"
RUN_NAME: Final = "run.toml"
"""In a folder of prints that a table asks for: which plan is of which row."""


def jobs_folder(book_path: str | Path) -> Path:
    """Where new plans of a studio go: beside its paper book."""
    return Path(book_path).absolute().parent / JOBS_FOLDER


def book_near(folder: str | Path) -> Path | None:
    """The paper book of the studio that a folder lies in; None outside of any."""
    start = Path(folder).absolute()
    return next(
        (
            it / BOOK_NAME
            for it in (start, *start.parents)
            if is_regular(it / BOOK_NAME)
        ),
        None,
    )


def path_in_studio(whole: str, folder: Path, studio: Path) -> str:
    """
    How a plan file in a folder names a file.

    Parameters
    ----------
    whole : str
        Absolute path.
    folder : Path
        Of the plan file.
    studio : Path
        Folder of the paper book.

    Returns
    -------
    str
        From the folder, if both lie in the studio; else the absolute path.
    """
    path, folder, studio = Path(whole).resolve(), folder.resolve(), studio.resolve()
    both_inside = path.is_relative_to(studio) and folder.is_relative_to(studio)
    if not path.is_relative_to(folder) and not both_inside:
        return whole
    return Path(os.path.relpath(path, folder)).as_posix()


def make_folder(path: str | Path) -> None:
    """
    Make a folder, and those above it; one that is there stays.

    Raises
    ------
    RecordError
        If it cannot be made.
    """
    try:
        Path(path).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"{path} cannot be made ({error.strerror or error}).",
            remedy="Move that file away, or choose another name for the folder."
            if isinstance(error, FileExistsError | NotADirectoryError)
            else writing_remedy(error),
        ) from error
