"""How does the finished file come onto the disk, whole or not at all?"""

from __future__ import annotations

import os
import shutil
import struct
import zlib
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from io import BufferedWriter
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

from tifffile import TiffFileError

from printplan.errors import RenderError, Setting, is_full, writing_remedy
from printplan.foreign_file import named
from printplan.free_name import give_free_name, part_path
from printplan.pixels.file_formats import (
    require_jpeg_can_hold,
    write_jpeg,
    write_tiff,
)
from printplan.pixels.own_files import OwnFile, is_as_made, remember_made
from printplan.pixels.pdf_page import write_pdf
from printplan.pixels.picture_file import FileForm, PixelRows, Progress, file_form
from printplan.pixels.written_file import WrittenFile
from printplan.sizing.print_size import print_size_mm
from printplan.spec import FileFormat

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.pixels.picture_file import Check, Page


# Older versions of tifffile do not count their error among the values' errors; Pillow
# raises OSError, without the system's number, for what it cannot decode.
_UNREADABLE = (
    OSError,
    ValueError,
    LookupError,
    SyntaxError,
    TiffFileError,
    struct.error,
    zlib.error,
)

_TIFF = ((".tif", ".tiff"), write_tiff)
_FORMATS = {
    FileFormat.TIFF_16: _TIFF,
    FileFormat.TIFF_8: _TIFF,
    FileFormat.JPEG: ((".jpg", ".jpeg"), write_jpeg),
    FileFormat.PDF: ((".pdf",), write_pdf),
}
"""Endings, and how it is written."""


def ending_of(file_format: FileFormat) -> str:
    """How the name of such a file usually ends, with the dot."""
    return _FORMATS[file_format][0][0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """
    A finished file.

    Attributes
    ----------
    path : Path
        Absolute.
    sha256 : str
        Hash of the whole file, hexadecimal.
    pixel_blake3 : str
        Hash of the pixels before the file format: row by row, low byte first. BLAKE3,
        hexadecimal.
    pixel_sha256 : str
        The same by SHA-256; empty where it was not asked for.
    ppi : float
        Picture pixels per inch, as tagged.
    width_mm, height_mm : float
        Size on paper of the pixels at that resolution.
    bytes_written : int
        Length of the file.
    """

    path: Path
    sha256: str
    pixel_blake3: str
    pixel_sha256: str = ""
    width_px: int
    height_px: int
    ppi: float
    width_mm: float
    height_mm: float
    bytes_written: int
    file_format: FileFormat


def render(
    sheet: Page,
    path: str | Path,
    *,
    overwrite: bool = False,
    progress: Progress | None = None,
    with_pixel_sha256: bool = False,
) -> Rendered:
    """
    Compute a sheet and write its file.

    Parameters
    ----------
    sheet : Page
        A `Sheet` with its picture, or a `TrialSheet`.
    path : str or Path
        Its ending must be that of the delivery's file format.
    overwrite : bool, optional
        Permits a file of that name to be replaced, if printplan wrote it and nobody
        changed it since; never another, and never the master.
    progress : Progress, optional
        Told of each band written. See `progress_bar`.
    with_pixel_sha256 : bool, optional
        Hash the pixels by SHA-256 too, for a record that knows no other hash of them.

    Raises
    ------
    RenderError
        If the file cannot be written or does not read back as written.

    Notes
    -----
    The file is written under a temporary name beside its target, put on the disk,
    read back and compared, and only then given its name. Whatever ends this early,
    the user's interruption included, takes the temporary file away; a power cut or
    a killed process can leave one, named ``.printplan-….part``, which the next start
    takes away.

    What is read back may come from the system's own memory: a disk that corrupts
    later is not found out.
    """
    target = Path(path).absolute()
    form = file_form(sheet)
    _, write = _FORMATS[form.file_format]
    master = Path(sheet.master.facts.path)
    explained = partial(_explained, target, form)
    with explained():
        _require_suffix(target, form)
        _require_free_name(target, master, overwrite=overwrite)
        _require_space(target, form)
    if form.file_format is FileFormat.JPEG:
        require_jpeg_can_hold(form)
    part = part_path(target)
    with explained():
        disk = WrittenFile(part, explained)
    try:
        pixels = PixelRows(sheet, form, progress, with_sha256=with_pixel_sha256)
        with BufferedWriter(disk) as file, pixels as rows:
            check = write(file, form, rows)
            file.flush()
            found = disk.finish()
        with explained():
            _read_back(part, check)
            found.require_as_written()
            _require_taken(form, found.length)
            _require_free_name(target, master, overwrite=overwrite)
            remember_made(found.sha256, OwnFile.PRINT)
            _publish(part, target, overwrite=overwrite)
    finally:
        with explained(), suppress(FileNotFoundError):
            _take_away(part)
    ppi = float(form.ppi)
    width_mm, height_mm = print_size_mm(form.width_px, form.height_px, ppi)
    return Rendered(
        path=target,
        sha256=found.sha256,
        pixel_blake3=rows.blake3,
        pixel_sha256=rows.sha256,
        width_px=form.width_px,
        height_px=form.height_px,
        ppi=ppi,
        width_mm=width_mm,
        height_mm=height_mm,
        bytes_written=found.length,
        file_format=form.file_format,
    )


def _take_away(part: Path) -> None:
    """Remove an unfinished file; nobody waits while the disk frees what it held."""
    held = None
    if os.name == "posix":  # others remove no file that is open
        with suppress(OSError):
            held = os.open(part, os.O_RDONLY)
    try:
        part.unlink()
    finally:
        if held is not None:
            Thread(target=os.close, args=(held,)).start()


@contextmanager
def progress_bar(title: str = "", unit: str = "rows") -> Iterator[Progress]:
    """
    Show a bar, in a terminal or in a notebook, as long as the block runs.

    Parameters
    ----------
    title : str, optional
        Stands before the bar.
    unit : str, optional
        What is counted.

    Yields
    ------
    Progress
        To be given to `render` inside the block.
    """
    from tqdm.auto import tqdm  # noqa: PLC0415 - loads asyncio

    with tqdm(desc=title or None, unit=f" {unit}") as bar:

        def show(done_rows: int, all_rows: int) -> None:
            bar.total = all_rows
            bar.update(done_rows - bar.n)

        yield show


@contextmanager
def _explained(target: Path, form: FileForm) -> Iterator[None]:
    """Translate what the system says of the disk."""
    try:
        yield
    except OSError as error:
        if is_full(error):
            raise _no_room(target, form, str(error.strerror)) from error
        raise RenderError(
            f"{named(target)} cannot be written ({error.strerror or error}).",
            remedy=writing_remedy(error),
        ) from error


def _require_suffix(target: Path, form: FileForm) -> None:
    suffixes = _FORMATS[form.file_format][0]
    if not target.name:
        raise RenderError(f"{target} is a folder.", remedy="Give a file's name in it.")
    if target.suffix.lower() not in suffixes:
        raise RenderError(
            f"A {form.file_format} file is to be named {target.name!r}.",
            remedy=f"Name it {target.with_suffix(suffixes[0]).name!r}, or choose "
            "another format.",
        )


def _require_free_name(target: Path, master: Path, *, overwrite: bool) -> None:
    if not target.parent.is_dir():
        raise RenderError(
            f"There is no folder {target.parent}.",
            remedy="Make the folder first, or choose one that exists.",
        )
    try:
        target.lstat()
    except FileNotFoundError:
        return
    with suppress(FileNotFoundError):
        if master.samefile(target):
            raise RenderError(
                f"{target} is the master itself.",
                remedy="Choose another name; a master is never written to.",
            )
    if not target.is_file():
        raise RenderError(
            f"{target} exists and is not a file.", remedy="Choose another name."
        )
    if not overwrite:
        raise _exists(target)
    if not is_as_made(target, OwnFile.PRINT):
        raise RenderError(
            f"{target} is not a file that printplan made, or was changed since; it is "
            "not replaced.",
            remedy="Choose another name, or move that file away or delete it yourself.",
        )


def _exists(target: Path) -> RenderError:
    return RenderError(
        f"{target} exists already.",
        remedy="Choose another name.",
        setting=Setting.OVERWRITE,
    )


def _require_space(target: Path, form: FileForm) -> None:
    """Refuse a full disk early where the length of the file is known."""
    if form.file_format not in {FileFormat.TIFF_16, FileFormat.TIFF_8}:
        return
    free = shutil.disk_usage(target.parent).free
    if free < _needed_bytes(form):
        raise _no_room(target, form, f"{free / 1e6:.1f} MB free")


def _require_taken(form: FileForm, length: int) -> None:
    """Refuse a file that is longer than its service takes."""
    if form.most_bytes is not None and length > form.most_bytes:
        raise RenderError(
            f"The file is {length / 1e6:.2f} MB; at most {form.most_bytes / 1e6:g} MB "
            "are taken.",
            remedy="Choose the format JPEG if it is taken, a lower resolution or a "
            "smaller print.",
        )


def _needed_bytes(form: FileForm) -> int:
    """Of all pixels, and of the profile, which a press's may outweigh."""
    return form.all_bytes + len(form.profile.data)


def _no_room(target: Path, form: FileForm, found: str) -> RenderError:
    needed = f"{_needed_bytes(form) / 1e6:.1f} MB"
    return RenderError(
        f"The disk of {target.parent} cannot take {target.name} of up to {needed} "
        f"({found}).",
        remedy=f"Free {needed} there, or choose a folder on another disk.",
    )


def _read_back(part: Path, check: Check) -> None:
    """Compare what the format's own reader finds with what was to be written."""
    try:
        check(part)
    except _UNREADABLE as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise  # the disk's
        raise RenderError(
            f"The file cannot be read back ({error}).",
            remedy="Render it again; if that fails too, write to another disk.",
        ) from error


def _publish(part: Path, target: Path, *, overwrite: bool) -> None:
    """Give the finished file its name, in one step that cannot replace another."""
    if overwrite:
        part.replace(target)
        return
    try:
        give_free_name(part, target)
    except FileExistsError as error:
        raise _exists(target) from error
