"""Where does a lesson put what it makes, so that nothing of it is kept?"""

from __future__ import annotations

import atexit
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.own_folders import passing_folder
from printplan.record.paper_book import write_paper_book
from printplan.record.studio_folder import BOOK_NAME

if TYPE_CHECKING:
    from printplan.workbook.bench import Bench


def practice_folder(bench: Bench) -> Path:
    """
    Make a folder that is gone when the kernel has stopped.

    Parameters
    ----------
    bench : Bench
        From a plan file: a copy of its paper book is put into the folder.

    Returns
    -------
    Path
        Absolute, and new each time.

    Raises
    ------
    RecordError
        If the bench has no paper book, or the folder cannot be written.
    """
    book = bench.book
    folder = passing_folder("practice-")
    atexit.register(folder.cleanup)
    write_paper_book(book, Path(folder.name) / BOOK_NAME)
    return Path(folder.name)
