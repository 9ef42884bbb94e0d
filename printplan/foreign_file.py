"""How is a file that others wrote, or may have changed, opened for reading?"""

from __future__ import annotations

import errno
import os
import stat
from contextlib import contextmanager
from functools import lru_cache, wraps
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from printplan.shown_text import shortened, visible

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from io import BufferedReader

    from printplan.errors import PrintPlanError

FilePath = TypeVar("FilePath", str, Path, str | Path)
Found = TypeVar("Found")

_KINDS = {
    stat.S_IFIFO: "a pipe",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a disk",
    stat.S_IFSOCK: "a socket",
    stat.S_IFDIR: "a folder",
}
# A pipe without a writer would be waited for, and a terminal would take the session.
_AT_ONCE = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0)


def open_foreign(
    path: str | Path,
    *,
    raises: type[PrintPlanError],
    what: str = "The file",
    most_bytes: int | None = None,
) -> BufferedReader:
    """
    Open a regular file of bounded size for reading.

    Parameters
    ----------
    raises : type of PrintPlanError
        What a refusal is.
    what : str, optional
        What the file is to be, as a sentence begins with it.
    most_bytes : int or None, optional
        A longer one is refused.

    Raises
    ------
    PrintPlanError
        Of that type: if the name cannot be one; if there is no such file, or it may
        not be read; if it is a folder, a pipe or a device; if it holds nothing, or too
        much.
    """
    shown = named(path)
    with faults_named(path, raises=raises, what=what):
        # Path.open takes no opener, and libraries want a stream that has a name.
        stream = open(path, "rb", opener=_open_at_once)  # noqa: SIM115
        try:
            status = os.fstat(stream.fileno())
            _require_regular(status.st_mode, what, shown, raises)
            _require_size(status.st_size, most_bytes, what, shown, raises)
        except BaseException:
            stream.close()
            raise
        return stream


def read_foreign(
    path: str | Path,
    *,
    raises: type[PrintPlanError],
    what: str = "The file",
    most_bytes: int,
) -> bytes:
    """
    Read the whole of a regular file of bounded size.

    Raises
    ------
    PrintPlanError
        As `open_foreign` does; and if it grows beyond the size while it is read.
    """
    with (
        open_foreign(path, raises=raises, what=what, most_bytes=most_bytes) as stream,
        faults_named(path, raises=raises, what=what),
    ):
        content = stream.read(most_bytes + 1)
    _require_size(len(content), most_bytes, what, named(path), raises)
    return content


def state_of(path: str | Path) -> tuple[int, ...] | None:
    """
    What tells a file, as it is now, from another and from itself once it is changed.

    Returns
    -------
    tuple of int or None
        None where nothing can be asked: whoever opens it is told why.
    """
    try:
        told = os.stat(path)  # noqa: PTH116 - Path raises for such names as well
    except (OSError, ValueError):
        return None
    return told.st_dev, told.st_ino, told.st_size, told.st_mtime_ns, told.st_ctime_ns


def read_when_changed(
    most: int,
) -> Callable[[Callable[[FilePath], Found]], Callable[[FilePath], Found]]:
    """
    Let a function that reads a file keep what it found, until the file is another.

    Parameters
    ----------
    most : int
        How many are kept.

    Returns
    -------
    callable
        For functions of a path. What they raise is not kept.
    """

    def kept(read: Callable[[FilePath], Found]) -> Callable[[FilePath], Found]:
        @lru_cache(most)
        def known(path: FilePath, _whole: str, _state: tuple[int, ...]) -> Found:
            return read(path)

        @wraps(read)
        def asked(path: FilePath) -> Found:
            state = state_of(path)
            if state is None:
                return read(path)  # which says why it cannot
            return known(path, os.path.abspath(path), state)  # noqa: PTH100 - as above

        return asked

    return kept


def is_there(path: str | Path) -> bool:
    """
    Whether there is anything under a name that can be reached.

    Returns
    -------
    bool
        False, too, for a name that no file can have, and below a folder that one may
        not enter: whoever opens it is told why.
    """
    return os.path.exists(path)  # noqa: PTH110 - Path raises for such names


def is_regular(path: str | Path) -> bool:
    """Whether there is a regular file, as `is_there` sees it."""
    return os.path.isfile(path)  # noqa: PTH113 - the same


def require_foreign(
    path: str | Path,
    *,
    raises: type[PrintPlanError],
    what: str = "The file",
    most_bytes: int | None = None,
) -> None:
    """
    Refuse what `open_foreign` would refuse, without opening it.

    For a file that a library opens by its name, or that may not be opened twice.

    Raises
    ------
    PrintPlanError
        As `open_foreign` does.
    """
    with faults_named(path, raises=raises, what=what):
        status = Path(path).stat()
    _require_regular(status.st_mode, what, named(path), raises)
    _require_size(status.st_size, most_bytes, what, named(path), raises)


@contextmanager
def faults_named(
    path: str | Path, *, raises: type[PrintPlanError], what: str = "The file"
) -> Iterator[None]:
    """
    Say in words why the system does not let a file be read.

    Raises
    ------
    PrintPlanError
        Of that type, in the place of OSError, and of ValueError for a name with a zero
        byte in it.
    """
    shown = named(path)
    try:
        yield
    except FileNotFoundError as error:
        raise raises(
            f"There is no file {shown}.",
            remedy="Check its name and folder; a disk may not be connected.",
        ) from error
    except IsADirectoryError as error:
        raise _folder(shown, raises) from error
    except PermissionError as error:
        raise raises(
            f"{what} {shown} may not be read by this account.",
            remedy="Allow your account to read it, or copy it elsewhere.",
        ) from error
    except OSError as error:
        if error.errno in {errno.ENAMETOOLONG, errno.EINVAL, errno.ENOTDIR}:
            raise _no_name(what, shown, raises, error.strerror) from error
        if error.errno == errno.ENXIO:  # a socket
            raise _irregular(what, shown, "a socket", raises) from error
        raise raises(
            f"{what} {shown} cannot be read ({error.strerror or error}).",
            remedy="Check the disk or the connection, then open it again.",
        ) from error
    except UnicodeError as error:
        raise _no_name(what, shown, raises, "letters this system has not") from error
    except ValueError as error:
        if "\0" not in str(path):
            raise
        raise _no_name(what, shown, raises, "a zero byte in it") from error


def _open_at_once(path: str, flags: int) -> int:
    return os.open(path, flags | _AT_ONCE)


def named(path: str | Path) -> str:
    """
    Name of a file as it can be shown and written: one line of valid text.

    Returns
    -------
    str
        Bytes that are no UTF-8, and control characters, as escapes; shortened in its
        middle beyond 300 characters.
    """
    return shortened(visible(str(path)))


def _require_regular(
    mode: int, what: str, shown: str, raises: type[PrintPlanError]
) -> None:
    if stat.S_ISREG(mode):
        return
    kind = _KINDS.get(stat.S_IFMT(mode), "no regular file")
    if stat.S_ISDIR(mode):
        raise _folder(shown, raises)
    raise _irregular(what, shown, kind, raises)


def _folder(shown: str, raises: type[PrintPlanError]) -> PrintPlanError:
    return raises(f"{shown} is a folder.", remedy="Name the file inside it.")


def _irregular(
    what: str, shown: str, kind: str, raises: type[PrintPlanError]
) -> PrintPlanError:
    return raises(
        f"{what} {shown} is {kind}, not a file on a disk.",
        remedy="Copy what it gives into a file, and name that.",
    )


def _require_size(
    size: int,
    most_bytes: int | None,
    what: str,
    shown: str,
    raises: type[PrintPlanError],
) -> None:
    if size == 0:
        raise raises(f"{what} {shown} is empty.", remedy="Copy or export it again.")
    if most_bytes is not None and size > most_bytes:
        raise raises(
            f"{what} {shown} is longer than {most_bytes / 1e6:g} MB.",
            remedy="Check that it is the file that was meant.",
        )


def _no_name(
    what: str, shown: str, raises: type[PrintPlanError], why: str | None
) -> PrintPlanError:
    return raises(
        f"{what} {shown} cannot be found by that name ({why}).",
        remedy="Give a shorter or plainer name.",
    )
