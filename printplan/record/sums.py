"""Are the files of a folder whole: what do its checksums say?"""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.foreign_file import named, open_foreign, read_foreign
from printplan.shown_text import visible

if TYPE_CHECKING:
    from collections.abc import Iterable

SUMS_NAME: Final = "SHA256SUMS"
"""As such lists are called; common practice, no source."""

_MOST_SUMS_BYTES = 4_000_000
"""Some 40,000 lines. Our choice."""

_CHUNK_BYTES = 1 << 20

# GNU coreutils 9.4, "md5sum invocation" in its manual: the sum, a space, a space or an
# asterisk, the name. A backslash before the sum says that \\, \n and \r in the name
# stand for a backslash and ends of lines.
_LINE = re.compile(r"(\\?)([0-9a-fA-F]{64}) [ *](.+)")
_ESCAPED: Final = {r"\\": "\\", r"\n": "\n", r"\r": "\r"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SumsReport:
    """
    What a folder's checksums say of its files.

    Attributes
    ----------
    sound, changed, missing, extra : tuple of str
        Names: as listed, with another sum, listed and not there, there and not listed.
    """

    sound: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    extra: tuple[str, ...] = ()

    @property
    def is_whole(self) -> bool:
        """Whether all that is listed is there as it was, and nothing else."""
        return not (self.changed or self.missing or self.extra)


def sums_text(folder: Path, names: Iterable[str]) -> str:
    """
    Checksums of files, in the lines that ``sha256sum -c`` reads.

    Parameters
    ----------
    names : iterable of str
        Of files in the folder; plain ones, without a backslash or an end of line.

    Raises
    ------
    RecordError
        If a file cannot be read, or its name would have to be escaped.
    """
    lines = []
    for name in names:
        _require_plain(name, "the folder")
        if re.search(r"[\\\n\r]", name):
            raise RecordError(
                f"The name {named(name)} holds a backslash or an end of line.",
                remedy="Give the file a plainer name.",
            )
        lines.append(f"{file_sha256(folder / name)}  {name}\n")
    return "".join(lines)


def file_sha256(path: Path) -> str:
    """
    SHA-256 of a file of any length, hexadecimal.

    Raises
    ------
    RecordError
        If it cannot be read.
    """
    total = hashlib.sha256()
    with open_foreign(path, raises=RecordError) as file:
        while chunk := file.read(_CHUNK_BYTES):
            total.update(chunk)
    return total.hexdigest()


def read_sums(text: str, *, where: str) -> dict[str, str]:
    """
    Names and sums of a list of checksums.

    Returns
    -------
    dict of str to str
        Sums in lower case, by the name of the file.

    Raises
    ------
    RecordError
        If a line is none of such a list, names a file outside the folder, or names
        one a second time.
    """
    sums: dict[str, str] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        found = _LINE.fullmatch(line)
        if found is None:
            raise RecordError(
                f"{where}, line {number} is no line of checksums.",
                remedy="Ask for the list again, as the tool wrote it.",
            )
        marked, digest, name = found.groups()
        if marked:
            name = re.sub(r"\\[\\nr]", lambda it: _ESCAPED[it[0]], name)
        _require_plain(name, f"{where}, line {number}")
        if name in sums:
            raise RecordError(
                f"{where}, line {number} names {named(name)} a second time.",
                remedy="Remove the line that is wrong.",
            )
        sums[name] = digest.lower()
    return sums


def verify_folder(folder: str | Path) -> SumsReport:
    """
    Compare the files of a folder with the checksums that lie in it.

    Parameters
    ----------
    folder : str or Path
        With a file `SUMS_NAME`. Folders in it are not entered, links not followed.

    Raises
    ------
    RecordError
        If there are no checksums, they cannot be read, or they name a file outside
        the folder.
    """
    folder = Path(folder)
    path = folder / SUMS_NAME
    data = read_foreign(path, raises=RecordError, most_bytes=_MOST_SUMS_BYTES)
    try:
        text = data.decode()
    except UnicodeDecodeError as error:
        raise RecordError(
            f"{named(path)} is not UTF-8 text (byte {error.start}).",
            remedy="Ask for the list again, as the tool wrote it.",
        ) from error
    sums = read_sums(text, where=named(path))
    there = _files_in(folder)
    sound: list[str] = []
    changed: list[str] = []
    for name, expected in sums.items():
        if name not in there:
            continue
        is_same = there[name] and _is(folder / name, expected)
        (sound if is_same else changed).append(name)
    return SumsReport(
        sound=tuple(sound),
        changed=tuple(changed),
        missing=tuple(it for it in sums if it not in there),
        extra=tuple(it for it in there if it not in sums and it != SUMS_NAME),
    )


def _is(path: Path, expected: str) -> bool:
    # An empty file is refused by `open_foreign`, and its sum is known.
    if path.lstat().st_size == 0:
        return expected == hashlib.sha256().hexdigest()
    return file_sha256(path) == expected


def _files_in(folder: Path) -> dict[str, bool]:
    """Names in a folder, sorted, and whether each is a regular file, not a link."""
    try:
        with os.scandir(folder) as entries:
            found = {it.name: it.is_file(follow_symlinks=False) for it in entries}
    except OSError as error:
        raise RecordError(
            f"{named(folder)} cannot be read ({error.strerror or error}).",
            remedy="Choose another folder, or check that you may read this one.",
        ) from error
    return dict(sorted(found.items()))


def _require_plain(name: str, where: str) -> None:
    """Refuse a name that is a way to elsewhere."""
    if (
        name in {"", ".", ".."}
        or re.search(r"[/\0]", name)
        or (os.sep == "\\" and re.search(r"[\\:]", name))
    ):
        raise RecordError(
            f"{visible(where)} names {named(name)}, which is no file of this folder.",
            remedy="Trust neither the list nor the folder: ask for both again.",
        )
