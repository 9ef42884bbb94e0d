"""How does the workbook get into the user's own folder, and onto the screen?"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from contextlib import ExitStack
from enum import StrEnum
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from printplan.errors import RecordError
from printplan.foreign_file import is_regular, read_foreign
from printplan.free_name import part_path
from printplan.workbook.own_page import PAGE_NAME, lab_extension

if TYPE_CHECKING:
    from collections.abc import Iterator

PLACED_NAME = ".printplan-notebooks"
"""Which notebooks were put in a folder: a line of hash and name for each."""

_LONGEST_LIST, _LONGEST_NOTEBOOK = 1_000_000, 200_000_000
"""Bytes of files that can be ours. Our choice."""


def notebook_sources() -> list[Path]:
    """
    The notebooks that come with the package, in order.

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
        The notebooks to open, in order. One that the user edited stays. If this
        package has a newer version of it, that is written beside it, once.

    Raises
    ------
    RecordError
        If the folder cannot be written, or the package has no notebooks.

    Notes
    -----
    Running a notebook edits it, for its results are saved in it. So an edited
    notebook is opened again as long as it began as the version of this package,
    which a list in the folder (`PLACED_NAME`) tells.
    """
    sources = notebook_sources()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        placed = _read_placed(folder)
        notebooks = [_place(source, folder, placed) for source in sources]
        lines = [f"{digest}  {name}\n" for name, digest in sorted(placed.items())]
        _write_whole(folder / PLACED_NAME, "".join(lines).encode())
    except OSError as error:
        raise RecordError(
            f"The notebooks cannot be put into {folder} ({error.strerror or error}).",
            remedy="Choose a folder of your own with --folder.",
        ) from error
    return notebooks


def _read_placed(folder: Path) -> dict[str, str]:
    """Hash of what was last put under each name; what cannot be read is not ours."""
    kept = folder / PLACED_NAME
    if not kept.exists():
        return {}
    try:
        data = read_foreign(kept, raises=RecordError, most_bytes=_LONGEST_LIST)
    except RecordError:
        return {}
    text = data.decode("utf-8", errors="replace")
    lines = (line.partition("  ") for line in text.splitlines())
    return {name: digest for digest, _, name in lines}


def _place(source: Path, folder: Path, placed: dict[str, str]) -> Path:
    """Put one notebook where it overwrites nothing but our own untouched copy."""
    data = source.read_bytes()
    wanted = _digest(data)
    names = _names(folder / source.name)
    while True:
        target = next(names)
        began = placed.get(target.name)
        found = _present(target)
        if found is None or found == began != wanted:
            _write_whole(target, data)
        elif wanted not in {began, found}:  # edited, and begun as another version
            continue
        placed[target.name] = wanted
        return target


def _present(target: Path) -> str | None:
    """Hash of what lies under a name; None if nothing does, empty if no notebook."""
    if not os.path.lexists(target):
        return None
    try:
        return _digest(
            read_foreign(target, raises=RecordError, most_bytes=_LONGEST_NOTEBOOK)
        )
    except RecordError as error:
        if is_regular(target):  # empty, or longer than any
            return ""
        raise RecordError(
            error.problem, remedy="Choose a folder of your own with --folder."
        ) from error


def _names(first: Path) -> Iterator[Path]:
    """The name itself, then names with the version of this package."""
    yield first
    stem = f"{first.stem}-{own_version()}"
    yield first.with_name(f"{stem}{first.suffix}")
    for number in count(2):
        yield first.with_name(f"{stem}-{number}{first.suffix}")


def own_version() -> str:
    """
    Version of this package, by which it names a new notebook.

    Raises
    ------
    RecordError
        If the package runs from a folder without being installed.
    """
    try:
        return version("printplan")
    except PackageNotFoundError as error:
        raise RecordError(
            "printplan is not installed here, so its version is not known.",
            remedy="Install it in its checkout: python -m pip install -e .",
        ) from error


def _write_whole(target: Path, data: bytes) -> None:
    part = part_path(target)
    try:
        part.write_bytes(data)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


class Front(StrEnum):
    """What shows the workbook."""

    LAB = "jupyterlab"
    """With its code, to be run and changed."""

    PAGES = "voila"
    """As pages without code, run when they are opened."""


def launch(folder: Path, *, front: Front = Front.LAB, browser: bool = True) -> int:
    """
    Copy the notebooks, start what shows them, and wait for its end.

    Parameters
    ----------
    folder : Path
        Where the user works.
    front : Front, optional
        JupyterLab begins with the page for the day's work, or with the first notebook
        if that page was taken away; Voila with a list of them.
    browser : bool, optional
        Whether a browser may be opened.

    Returns
    -------
    int
        Exit status of JupyterLab or Voila.

    Raises
    ------
    RecordError
        If the folder cannot be written, the package has no notebooks, or Voila is
        not installed.

    Notes
    -----
    Port, token and settings are JupyterLab's own affair: its configuration and its
    environment variables (``JUPYTER_PORT``, ``JUPYTER_TOKEN``) hold here too, and
    so do Voila's.
    """
    if front is Front.PAGES and find_spec("voila") is None:
        raise RecordError(
            "Voila, which shows the workbook without code, is not installed.",
            remedy='Install it: python -m pip install "printplan[voila]".',
        )
    notebooks = copy_notebooks(folder)
    own = [it for it in notebooks if it.stem.startswith(Path(PAGE_NAME).stem)]
    first = (own or notebooks)[0]
    with ExitStack() as stack:
        return _serve(first, folder, front, stack, browser=browser)


def kernel_environment() -> dict[str, str]:
    """
    Environment in which kernels run, beside what is set already.

    Notes
    -----
    What glibc's heap keeps of freed pictures is most of a kernel's memory: an arena for
    each thread that computes one, and arrays in the heap once larger ones were freed.
    Two arenas, and arrays from 1 MiB on outside of them, hold a kernel under 1 GB
    when one 50 MP master follows another, where the first alone took 1.2. See
    mallopt(3); elsewhere these say nothing.
    """
    return {
        "MALLOC_ARENA_MAX": "2",
        "MALLOC_MMAP_THRESHOLD_": str(2**20),
        "MALLOC_TRIM_THRESHOLD_": str(2**24),
    }


def _serve(
    first: Path, folder: Path, front: Front, stack: ExitStack, *, browser: bool
) -> int:
    """Start what shows a notebook, and wait for its end."""
    # -P: a module of the user's in that folder must not stand in for a library's.
    command = [sys.executable, "-P", "-m", front]
    if front is Front.LAB:
        # The address to begin at, which is also printed: a name given alone is not.
        command.append(f"--LabApp.default_url=/lab/tree/{quote(first.name)}")
        pages = [it for it in notebook_sources() if it.name == PAGE_NAME]
        for page in pages:
            extension = stack.enter_context(lab_extension(page))
            command.append(f"--LabApp.extra_labextensions_path={extension}")
    else:
        command.append(".")
    if not browser:
        command.append("--no-browser")
    if front is Front.LAB and hasattr(os, "geteuid") and os.geteuid() == 0:
        # Containers have no other user; JupyterLab alone would refuse to start.
        command.append("--allow-root")
    environment = kernel_environment() | os.environ
    with subprocess.Popen(command, cwd=folder, env=environment) as server:  # noqa: S603 - our own interpreter and file name
        while True:
            try:
                return server.wait()
            except KeyboardInterrupt:
                # The same key reached the server; JupyterLab asks before it stops.
                continue
