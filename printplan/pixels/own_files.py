"""Did printplan write the file that lies under a name, and is it as it was written?"""

from __future__ import annotations

import hashlib
import os
import tomllib
from contextlib import suppress
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from printplan.errors import PrintPlanError, RenderError
from printplan.foreign_file import faults_named, open_foreign, read_foreign
from printplan.pixels.working_copy import default_cache_folder

if TYPE_CHECKING:
    from pathlib import Path

_LIST_NAME: Final = "made-files.txt"
_MOST_BYTES: Final = 50_000_000
_MOST_RECORD_BYTES: Final = 16_000_000
_WHAT: Final = "The file"


class OwnFile(StrEnum):
    """What a file is that printplan wrote: one kind never takes another's place."""

    PRINT = "print"
    DECISION_SHEET = "decision-sheet"
    PRICE_SHEET = "price-sheet"
    CERTIFICATE = "certificate"
    CONTACT_SHEET = "contact-sheet"
    SUMMARY = "summary"


def remember_made(sha256: str, kind: OwnFile) -> None:
    """
    Note that a file of this hash was written by printplan.

    Parameters
    ----------
    sha256 : str
        Of the whole file, hexadecimal.

    Notes
    -----
    One line in a list in the cache folder. A list that cannot be written, or is thrown
    away, costs nothing but that such a file is not replaced any more.
    """
    path = default_cache_folder() / _LIST_NAME
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        # One write at the end of a file: two processes do not mix their lines.
        handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        try:
            os.write(handle, _line(sha256, kind))
        finally:
            os.close(handle)


def is_as_made(path: Path, kind: OwnFile) -> bool:
    """
    Whether a file is one that printplan wrote, byte for byte.

    Parameters
    ----------
    path : Path
        Any file. The list of `remember_made` says so, or a print's record beside it.

    Raises
    ------
    RenderError
        If the file cannot be read.
    """
    with (
        open_foreign(path, raises=RenderError, what=_WHAT) as stream,
        faults_named(path, raises=RenderError, what=_WHAT),
    ):
        found = hashlib.file_digest(stream, "sha256").hexdigest()
    if _is_listed(found, kind):
        return True
    return kind is OwnFile.PRINT and any(
        found == _recorded(it) for it in _records_beside(path)
    )


def _line(sha256: str, kind: OwnFile) -> bytes:
    return f"{sha256} {kind}\n".encode()


def _is_listed(sha256: str, kind: OwnFile) -> bool:
    try:
        listed = read_foreign(
            default_cache_folder() / _LIST_NAME,
            raises=RenderError,
            most_bytes=_MOST_BYTES,
        )
    except RenderError:  # none yet, or one that says nothing
        return False
    return _line(sha256, kind) in listed


def _records_beside(path: Path) -> list[Path]:
    """Its records: `print.tif.record.toml`, `print.tif-2.record.toml` and so on."""
    try:
        names = os.listdir(path.parent)  # noqa: PTH208 - names are all that is wanted
    except OSError:
        return []
    return [
        path.with_name(it)
        for it in names
        if it.startswith(path.name) and it.endswith(".record.toml")
    ]


def _recorded(record: Path) -> str:
    """The hash of the file that a record is about; empty if it says none."""
    try:
        text = read_foreign(record, raises=RenderError, most_bytes=_MOST_RECORD_BYTES)
        rendered = tomllib.loads(text.decode("utf-8-sig")).get("rendered")
    except (PrintPlanError, ValueError, RecursionError):
        return ""
    return str(rendered.get("sha256", "")) if isinstance(rendered, dict) else ""
