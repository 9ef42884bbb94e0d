"""How is a file written whole or not at all, and changed in place?"""

from __future__ import annotations

import os
import re
import shutil
import tomllib
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import RecordError, Setting, writing_remedy
from printplan.foreign_file import faults_named, is_there, named, read_foreign
from printplan.free_name import give_free_name, part_path
from printplan.record.backup import keep_text_before
from printplan.record.lock_file import locked

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


LARGEST_BYTES = 16_000_000
"""A longer file is not one of ours: some hundred thousand prints. Our choice."""

_MOST_TRIES = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class FileHeader:
    """
    What the first lines of a file of ours say: its format and version.

    Attributes
    ----------
    name : str
        The text after ``format =``.
    version : int
        Newest ``format_version`` that is understood.
    heading : str
        Comment at the top of a new file.
    former_keys : frozenset of str
        Keys that earlier versions wrote, and that a change replaces by those of today.
    """

    name: str
    version: int
    heading: str
    former_keys: frozenset[str] = frozenset()


def read_text(path: str | Path) -> str:
    """
    Read a file of ours.

    Returns
    -------
    str
        With the line ends that the file has.

    Raises
    ------
    RecordError
        If there is none, or it is not text.
    """
    data = read_foreign(path, raises=RecordError, most_bytes=LARGEST_BYTES)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RecordError(
            f"{named(path)} is not UTF-8 text (byte {error.start}).",
            remedy="Choose a text file, or save it again as UTF-8.",
        ) from error


def write_text(
    text: str,
    path: str | Path,
    header: FileHeader,
    *,
    overwrite: bool = False,
    permitted: Callable[[], bool] | None = None,
) -> bool:
    """
    Write a file whole or not at all.

    Parameters
    ----------
    header : FileHeader
        What the text is.
    overwrite : bool, optional
        Permits a file of that name to be replaced if it is of the same kind: a
        master is never replaced by its plan.
    permitted : callable, optional
        Asked when all is on the disk, just before the file gets its name.

    Returns
    -------
    bool
        False if it was not permitted; then nothing has changed.

    Raises
    ------
    RecordError
        If it exists already, is a file of another kind, or cannot be written.

    Notes
    -----
    A killed process or a power cut can leave a file ``.printplan-….part`` behind,
    which `tidy` takes away.
    """
    target = _whole_path(path)
    with part_beside(
        target, if_exists="Choose another name.", setting=Setting.OVERWRITE
    ) as part:
        with part.open("xb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        if permitted is not None and not permitted():
            return False
        if overwrite:
            if is_there(target):
                _require_kind(target, header)
                shutil.copymode(target, part)
            part.replace(target)
        else:
            give_free_name(part, target)
    return True


def require_free_text(
    path: str | Path, header: FileHeader, *, overwrite: bool = False
) -> None:
    """
    Refuse early what `write_text` would refuse of a name.

    Parameters
    ----------
    header : FileHeader
        What is to be written.
    overwrite : bool, optional
        As for `write_text`.

    Raises
    ------
    RecordError
        If the name is taken, by another kind of file or without permission.
    """
    target = _whole_path(path)
    if not is_there(target):
        return
    if not overwrite:
        raise RecordError(
            f"{path} exists already.",
            remedy="Choose another name.",
            setting=Setting.OVERWRITE,
        )
    _require_kind(target, header)


@contextmanager
def part_beside(
    path: Path, *, if_exists: str, setting: Setting | None = None
) -> Iterator[Path]:
    """
    Give a name for a file while it is being written, and clear it up afterwards.

    Parameters
    ----------
    path : Path
        The name that the file gets inside, when it is whole.
    if_exists : str
        Remedy where that name is taken.
    setting : Setting or None, optional
        What cures that as well.

    Yields
    ------
    Path
        In the folder of `path`: ``.printplan-….part``.

    Raises
    ------
    RecordError
        In the place of the errors of the disk.
    """
    part = part_path(_whole_path(path))
    try:
        yield part
    except FileExistsError as error:
        raise RecordError(
            f"{path} exists already.", remedy=if_exists, setting=setting
        ) from error
    except OSError as error:
        raise RecordError(
            f"{named(path)} cannot be written ({error.strerror or error}).",
            remedy=writing_remedy(error),
        ) from error
    finally:
        part.unlink(missing_ok=True)


def change_text(
    path: str | Path,
    header: FileHeader,
    change: Callable[[str | None], str],
    *,
    create: bool = False,
) -> str:
    """
    Change a file from what it holds now.

    Parameters
    ----------
    header : FileHeader
        What the file is.
    change : callable
        Makes the new text out of the present one. It may be asked several times.
    create : bool, optional
        Permits the file to be missing: `change` is then given None.

    Returns
    -------
    str
        What the file holds now.

    Raises
    ------
    RecordError
        If it cannot be read or written, or others change it all the time. It is then
        as it was.

    Notes
    -----
    Writers wait for each other at a lock file beside it, and each reads the file after
    it got the lock, so no change is lost; see `locked`. A writer that lost its lock
    meanwhile, or finds that an editor has saved the file, starts again from what is
    there now. Before the format of what is there changes, the file is kept as it was;
    see `keep_text_before`.
    """
    target = _whole_path(path)

    def present() -> str | None:
        return None if create and not is_there(target) else read_text(target)

    for _ in range(_MOST_TRIES):
        with locked(target) as still_locked:
            before = present()
            after = change(before)
            if before is not None and _format(before, header) != _format(after, header):
                keep_text_before(target, before)
            if after == before or write_text(
                after,
                target,
                header,
                overwrite=before is not None,
                permitted=lambda: still_locked() and present() == before,  # noqa: B023 - asked in this turn
            ):
                return after
    raise RecordError(
        f"{path} changes all the time; it was not written.",
        remedy="Close the other programs that write it, and try again.",
    )


def _whole_path(path: str | Path) -> Path:
    with faults_named(path, raises=RecordError):
        try:
            return Path(path).resolve()
        except RuntimeError as error:  # Python before 3.13, of links in a ring
            raise RecordError(
                f"{named(path)} is a link in a ring.",
                remedy="Give the file's own name.",
            ) from error


def _format(text: str, header: FileHeader) -> tuple[object, set[str]]:
    """In which format a text is: its version, and the keys of before."""
    try:
        version = tomllib.loads(text).get("format_version")
    except (ValueError, RecursionError):
        version = None
    keys = set(re.findall(r"^[ \t]*(\w+)[ \t]*=", text, re.MULTILINE))
    return version, keys & header.former_keys


def _require_kind(target: Path, header: FileHeader) -> None:
    """Refuse to replace what is of another kind; in an empty file nothing is lost."""
    if target.stat().st_size == 0:
        return
    data = read_foreign(target, raises=RecordError, most_bytes=LARGEST_BYTES)
    if not _is_kind(data, header):
        raise RecordError(
            f"{target} is not a {header.name}; it was not replaced.",
            remedy="Choose another name, or move that file away yourself.",
        )


def _is_kind(data: bytes, header: FileHeader) -> bool:
    if data.startswith(f'"{header.name}"'.encode()):  # a table begins with its names
        return True
    try:
        return tomllib.loads(data.decode("utf-8-sig")).get("format") == header.name
    except (ValueError, RecursionError):
        return False
