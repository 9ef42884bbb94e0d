"""How does a studio of one's own begin?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from printplan.errors import RecordError
from printplan.foreign_file import is_there
from printplan.record.paper_book import PaperBook, write_paper_book
from printplan.record.studio_folder import (
    BOOK_NAME,
    JOBS_FOLDER,
    MASTERS_FOLDER,
    PROFILES_FOLDER,
    make_folder,
)
from printplan.units import LengthUnit


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
    if is_there(book_path):
        raise RecordError(
            f"{folder} is a studio already: it holds {BOOK_NAME}.",
            remedy="Open it, or choose another folder for a new one.",
        )
    below = [folder / it for it in (MASTERS_FOLDER, PROFILES_FOLDER, JOBS_FOLDER)]
    made = [path for path in (folder, *below) if not path.is_dir()]
    for path in made:
        make_folder(path)
    write_paper_book(
        PaperBook(printers=(), papers=(), lengths_in=lengths_in), book_path
    )
    return NewStudio(folder=folder, book_path=book_path, made=(*made, book_path))
