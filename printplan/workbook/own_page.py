"""How does this program's own page run by itself when JupyterLab opens it?"""

from __future__ import annotations

import hashlib
import json
import shutil
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from printplan.own_folders import passing_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

PAGE_NAME = "print.ipynb"
"""The notebook that is a page for the day's work, not a lesson."""

EXTENSION_NAME = "printplan-runs-its-own-page"
_EXTENSION = Path(__file__).parent / "lab_extension"


def cells_hash(notebook: str | Path) -> str:
    """
    Hash of what a notebook's cells say.

    Returns
    -------
    str
        SHA-256 of kind and source of each cell, as JSON without spaces; results do
        not count. The browser reckons the same of what it is about to run.
    """
    told: dict[str, Any] = json.loads(Path(notebook).read_text(encoding="utf-8"))
    cells = [[it["cell_type"], "".join(it["source"])] for it in told["cells"]]
    text = json.dumps(cells, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


@contextmanager
def lab_extension(page: str | Path) -> Iterator[Path]:
    """
    A folder of JupyterLab extensions that holds one: it runs a page, and no other.

    Parameters
    ----------
    page : str or Path
        The notebook as this program wrote it. One whose cells are the same is run
        when it is opened; whatever else is opened waits for the person, as ever.

    Yields
    ------
    Path
        For JupyterLab's option ``extra_labextensions_path``. It is there as long as
        the block runs, and nothing is installed.

    Notes
    -----
    Tried were pictures stored in the notebook, which cannot be moved, and pages of
    Voila inside JupyterLab, which want a second server. This is a prebuilt extension
    of one plain file, without a build step.
    """
    with passing_folder() as folder:
        inside = Path(folder) / EXTENSION_NAME
        shutil.copytree(_EXTENSION, inside)
        own = json.dumps([cells_hash(page)])
        (inside / "static" / "own.json").write_text(own, encoding="utf-8")
        yield Path(folder)
