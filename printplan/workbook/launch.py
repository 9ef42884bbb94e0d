"""How does the workbook get into the user's own folder, and onto the screen?"""

from __future__ import annotations

import hashlib
import subprocess
import sys
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path

from printplan.errors import RecordError

_KEPT_HASHES = ".printplan-notebooks"


def notebook_sources() -> list[Path]:
    """
    The notebooks that come with the package, in order.

    Returns
    -------
    list of Path

    Raises
    ------
    RecordError
        If the package was installed without them.
    """
    installed = Path(str(files("printplan"))) / "notebooks"
    checkout = Path(str(files("printplan"))).parent / "notebooks"
    for folder in (installed, checkout):
        found = sorted(folder.glob("*.ipynb"))
        if found:
            return found
    raise RecordError(
        "This installation holds no notebooks.",
        remedy="Install printplan again from its wheel or its checkout.",
    )


def copy_notebooks(folder: Path) -> list[Path]:
    """
    Put the notebooks into a folder, never over an edited one.

    Parameters
    ----------
    folder : Path
        Made if missing.

    Returns
    -------
    list of Path
        The notebooks to open, in order. One that the user edited stays, and the
        version of this package is written beside it.

    Raises
    ------
    RecordError
        If the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        ours = _hashes_written(folder)
        placed = [_place(source, folder, ours) for source in notebook_sources()]
        lines = "".join(f"{digest}\n" for digest in sorted(ours))
        (folder / _KEPT_HASHES).write_text(lines, encoding="ascii")
    except OSError as error:
        raise RecordError(
            f"The notebooks cannot be written to {folder} ({error.strerror}).",
            remedy="Choose a folder of your own with --folder.",
        ) from error
    return placed


def _hashes_written(folder: Path) -> set[str]:
    """Hashes of every notebook that this launcher ever wrote here."""
    kept = folder / _KEPT_HASHES
    return set(kept.read_text(encoding="ascii").split()) if kept.exists() else set()


def _place(source: Path, folder: Path, ours: set[str]) -> Path:
    """Copy one notebook: over our own earlier copy, or beside an edited one."""
    data = source.read_bytes()
    target = folder / source.name
    if target.exists() and _digest(target.read_bytes()) not in ours | {_digest(data)}:
        target = folder / f"{source.stem}-{version('printplan')}{source.suffix}"
        if target.exists():
            return target
    ours.add(_digest(data))
    partial = target.with_name(f".{target.name}.part")
    partial.write_bytes(data)
    partial.replace(target)
    return target


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def launch(folder: Path, *, browser: bool = True) -> int:
    """
    Copy the notebooks and start JupyterLab on the first.

    Parameters
    ----------
    folder : Path
        Where the user works.
    browser : bool, optional
        Whether a browser may be opened.

    Returns
    -------
    int
        Exit status of JupyterLab.

    Raises
    ------
    RecordError
        If the folder cannot be written.
    """
    first = copy_notebooks(folder)[0]
    command = [sys.executable, "-m", "jupyterlab", first.name]
    if not browser:
        command.append("--no-browser")
    return subprocess.run(command, cwd=folder, check=False).returncode  # noqa: S603 - our own interpreter and file name
