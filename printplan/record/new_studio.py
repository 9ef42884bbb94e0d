"""How does a studio of one's own begin?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from printplan.errors import RecordError
from printplan.record.paper_book import PaperBook, write_paper_book
from printplan.units import LengthUnit

BOOK_NAME: Final = "paper-book.toml"
JOBS_FOLDER: Final = "jobs"
MASTERS_FOLDER: Final = "masters"
PROFILES_FOLDER: Final = "profiles"


@dataclass(frozen=True, slots=True, kw_only=True)
class NewStudio:
    """
    Where a studio's things lie.

    Attributes
    ----------
    folder, book_path : Path
        Absolute.
    made : tuple of Path
        What was not there before.
    """

    folder: Path
    book_path: Path
    made: tuple[Path, ...]


def new_studio(
    folder: str | Path, *, lengths_in: LengthUnit = LengthUnit.MM
) -> NewStudio:
    """
    Make an empty paper book, and folders for masters, profiles and jobs.

    Parameters
    ----------
    folder : str or Path
        Made if missing. What is there already stays as it is.
    lengths_in : LengthUnit, optional
        Unit of the studio.

    Raises
    ------
    RecordError
        If there is a paper book already, or the folder cannot be written.
    """
    folder = Path(folder).absolute()
    book_path = folder / BOOK_NAME
    if book_path.exists():
        raise RecordError(
            f"{folder} is a studio already: it holds {BOOK_NAME}.",
            remedy="Open it, or choose another folder for a new one.",
        )
    below = [folder / it for it in (MASTERS_FOLDER, PROFILES_FOLDER, JOBS_FOLDER)]
    made = [path for path in (folder, *below) if not path.is_dir()]
    for path in made:
        _make(path)
    write_paper_book(
        PaperBook(printers=(), papers=(), lengths_in=lengths_in), book_path
    )
    return NewStudio(folder=folder, book_path=book_path, made=(*made, book_path))


def _make(path: Path) -> None:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"{path} cannot be made ({error.strerror or error}).",
            remedy="Choose a folder that you may write to, or move that file away.",
        ) from error
