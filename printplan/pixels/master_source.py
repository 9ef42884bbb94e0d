"""From where are a master's pixels taken: its file, or a decoded copy?"""

from __future__ import annotations

import hashlib
import weakref
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import partial
from threading import Lock
from typing import TYPE_CHECKING, NoReturn

import imagecodecs
import numpy as np
import simplejpeg

from printplan.errors import MasterError, Setting
from printplan.foreign_file import faults_named, named
from printplan.pixels.guarded_reading import (
    Decoding,
    Stamp,
    decoded,
    described,
    refuse_changed,
    stamp_of,
)
from printplan.pixels.master_file import Stored, Transparency, own_profile, refuse
from printplan.pixels.master_reading import open_file
from printplan.pixels.plain_pixels import PlainPixels
from printplan.pixels.sealed_pixels import DamagedError, Recipe
from printplan.pixels.stored_rows import ShortFileError
from printplan.pixels.working_copy import (
    WorkingCopy,
    copy_path,
    default_cache_folder,
    open_copy,
)
from printplan.pixels.working_pixels import (
    Working,
    code_tables,
    working_kind,
    working_profile,
)
from printplan.sizing.boxes import Box
from printplan.spec import AlphaRule, MasterFacts

if TYPE_CHECKING:
    from collections.abc import Callable
    from io import BufferedReader
    from pathlib import Path

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

_MOST_COPIES = 3
"""How often a damaged copy is made anew before its disk is held to be the fault."""

_COPY_VERSION = 3
"""Raised when the same master would give other working pixels, or in another order."""


# TIFF 6.0, Orientation: which sides of the picture the first row and column are.
_TRANSPOSED = 5
"""From this flag on stored rows are columns of the picture."""

_ROWS_TURNED, _COLUMNS_TURNED = (3, 4, 7, 8), (2, 3, 6, 7)


class OriginalPixels:
    """
    The pixels of a master's own file, where they lie.

    Parameters
    ----------
    stream : BufferedReader
        Closed with it.
    stamp : tuple of int
        Of the file when it was hashed.
    """

    def __init__(
        self, path: Path, stream: BufferedReader, stamp: Stamp, pixels: PlainPixels
    ) -> None:
        self.clipped_count = 0
        self.close = stream.close
        self._path, self._stream, self._stamp = path, stream, stamp
        self._pixels = pixels

    def read(self, box: Box) -> NDArray[np.generic]:
        """
        Numbers of a box as stored, shape (channels, rows, columns).

        Raises
        ------
        MasterError
            If the file changed since it was hashed, cannot be read, or was closed.
        """
        if self._stream.closed:
            refuse_closed(self._path)
        try:
            with faults_named(self._path, raises=MasterError, what="The master"):
                found = self._pixels.read(box.top, box.bottom, box.left, box.right)
                stamp = stamp_of(self._stream)
        except ShortFileError:
            refuse_changed(self._path)
        except ValueError:  # closed meanwhile
            refuse_closed(self._path)
        if stamp != self._stamp:
            refuse_changed(self._path)
        return found


class CopiedPixels:
    """
    The pixels of a master's copy in the cache; a damaged one is made anew.

    Parameters
    ----------
    path : Path
        The master, for errors.
    find : callable
        Opens the copy, or makes it. True asks for a new one.
    """

    def __init__(self, path: Path, find: Callable[[bool], WorkingCopy]) -> None:
        self._path, self._find = path, find
        self._lock = Lock()
        self._copy: WorkingCopy | None = find(False)
        self.clipped_count = self._copy.pixels.clipped_count

    def close(self) -> None:
        """Let go of the copy."""
        with self._lock:
            copy, self._copy = self._copy, None
        if copy is not None:
            copy.close()

    def read(self, box: Box) -> NDArray[np.generic]:
        """
        Numbers of a box as stored, shape (channels, rows, columns).

        Raises
        ------
        MasterError
            If the copy is damaged and the master is not there any more to make it
            anew, or if it was closed.
        """
        for _ in range(_MOST_COPIES):
            copy = self._copy
            if copy is None:
                break
            try:
                found = copy.pixels.read(box.top, box.bottom, box.left, box.right)
                return found.transpose(2, 0, 1)
            except DamagedError:
                self._replace(copy)
            except ValueError:  # closed by another thread, with or without a follower
                continue
        if self._copy is None:
            refuse_closed(self._path)
        return refuse(
            f"The decoded copy of {named(self._path)} is damaged again and again.",
            remedy="Check the disk that holds it, or set PRINTPLAN_CACHE to a folder "
            "on another disk.",
        )

    def _replace(self, damaged: WorkingCopy) -> None:
        with self._lock:
            if self._copy is damaged:  # else another thread was quicker
                self._copy = self._find(True)
                damaged.close()


@dataclass(kw_only=True, eq=False)
class Source:
    """
    An open master: what it is, and its working pixels.

    Attributes
    ----------
    profile, source_profile : Profile
        Of the working pixels, and of the file.
    pixels : OriginalPixels or CopiedPixels
        As stored, whichever way the picture is looked at.
    tables : ndarray or None
        Linear light of each code, or None if the pixels are linear already.
    close : callable
        Lets go of the pixels; at the latest when the source is thrown away.
    """

    facts: MasterFacts
    profile: Profile
    source_profile: Profile
    pixels: OriginalPixels | CopiedPixels
    tables: NDArray[np.float32] | None

    def __post_init__(self) -> None:
        self.close = weakref.finalize(self, self.pixels.close)

    def read(self, box: Box) -> NDArray[np.generic]:
        """
        Working pixels of a box of the picture as it is looked at.

        Returns
        -------
        ndarray, shape (channels, rows, columns)
            Rows and columns as stored; `oriented` turns them.

        Raises
        ------
        MasterError
        """
        return self.pixels.read(stored_box(box, self.facts))


def open_source(
    path: Path, *, assume_profile: str, alpha: AlphaRule, cache_folder: Path | None
) -> Source:
    """
    Open a master, decoding it if it cannot be read in place.

    Raises
    ------
    MasterError, ProfileError
    """
    with ExitStack() as opened:
        stream = opened.enter_context(open_file(path))
        stamp = stamp_of(stream)
        with ThreadPoolExecutor(1) as pool:
            told = pool.submit(described, path)
            sha256 = _sha256(stream, path)
            described_stamp, stored = told.result()
        if described_stamp != stamp:
            refuse_changed(path)
        own = own_profile(path, stored, assume_profile)
        _check_transparency(path, stored, alpha)
        kind = working_kind(stored, own)
        working = working_profile(kind, own)
        if stamp_of(stream) != stamp:
            refuse_changed(path)
        pixels: OriginalPixels | CopiedPixels
        if kind is Working.CODES and stored.in_place is not None:
            plain = PlainPixels(stream, stored, stored.in_place)
            pixels = OriginalPixels(path, stream, stamp, plain)
        else:
            decoding = Decoding(
                path=path,
                stamp=stamp,
                stored=stored,
                profile=own,
                kind=kind,
                recipe=_recipe(sha256, stored, kind, own, working),
            )
            folder = cache_folder or default_cache_folder()
            pixels = CopiedPixels(path, partial(_copy, decoding, sha256, folder))
            opened.callback(pixels.close)
        source = Source(
            facts=_facts(
                path,
                sha256=sha256,
                stored=stored,
                own=own,
                working=working,
                clipped_count=pixels.clipped_count,
            ),
            profile=working,
            source_profile=own,
            pixels=pixels,
            tables=code_tables(stored, own) if kind is Working.CODES else None,
        )
        opened.pop_all()
        if isinstance(pixels, CopiedPixels):
            stream.close()
        return source


def stored_box(box: Box, facts: MasterFacts) -> Box:
    """
    Where a box of the picture as it is looked at lies among the stored rows.

    Parameters
    ----------
    box : Box
        In pixels of the picture.
    facts : MasterFacts
        Tells how it is turned, and its size as it is looked at.

    Returns
    -------
    Box
        The one whose stored numbers `oriented` turns into the box.
    """
    flag, left, top = facts.orientation_flag, box.left, box.top
    if flag in _COLUMNS_TURNED:
        left = facts.width_px - box.right
    if flag in _ROWS_TURNED:
        top = facts.height_px - box.bottom
    if flag >= _TRANSPOSED:
        return Box(top, left, box.height, box.width)
    return Box(left, top, box.width, box.height)


def oriented(planes: NDArray[np.generic], flag: int) -> NDArray[np.generic]:
    """
    Stored planes as they are looked at.

    Parameters
    ----------
    planes : ndarray, shape (channels, rows, columns)
    flag : int
        TIFF 6.0 Orientation: which sides of the picture the first row and column
        are.

    Returns
    -------
    ndarray
        A view.
    """
    if flag >= _TRANSPOSED:
        planes = planes.transpose(0, 2, 1)
    if flag in _ROWS_TURNED:
        planes = planes[:, ::-1]
    if flag in _COLUMNS_TURNED:
        planes = planes[:, :, ::-1]
    return planes


def refuse_closed(path: Path) -> NoReturn:
    """
    Say that a master was closed while it was read.

    Raises
    ------
    MasterError
        Always.
    """
    refuse(f"The master {named(path)} was closed.", remedy="Open it again.")


def _sha256(stream: BufferedReader, path: Path) -> str:
    with faults_named(path, raises=MasterError, what="The master"):
        stream.seek(0)
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _copy(
    decoding: Decoding,
    sha256: str,
    folder: Path,
    anew: bool,  # noqa: FBT001 - the caller knows no more than this
) -> WorkingCopy:
    """Open the copy, or make it of what is still the same master."""
    path, target = decoding.path, copy_path(folder, decoding.recipe)
    if not anew:
        return open_copy(target, decoding.recipe) or decoded(decoding, target)
    with open_file(path) as stream:
        stamp = stamp_of(stream)
        if _sha256(stream, path) != sha256:
            refuse(
                f"The decoded copy of {named(path)} was damaged, and the master is "
                "another file by now.",
                remedy="Open the master again.",
            )
    return decoded(replace(decoding, stamp=stamp), target)


def _check_transparency(path: Path, stored: Stored, alpha: AlphaRule) -> None:
    if stored.transparency is not Transparency.NONE and alpha is AlphaRule.REFUSE:
        refuse(
            f"{path} carries transparency.",
            remedy="Flatten it and export it again, or let it be laid on paper white.",
            setting=Setting.ALPHA,
        )


def _recipe(
    sha256: str, stored: Stored, kind: Working, own: Profile, working: Profile
) -> Recipe:
    """All that working pixels depend on, the versions of the decoders among it."""
    text = "\n".join(
        [
            f"printplan working copy {_COPY_VERSION}",
            f"imagecodecs {imagecodecs.__version__}",
            f"simplejpeg {simplejpeg.__version_info__}",
            kind,
            own.sha256,
            working.sha256,
            sha256,
        ]
    )
    shape = (stored.height_px, stored.width_px, working.channels)
    dtype = stored.dtype if kind is Working.CODES else np.dtype(np.float32)
    return Recipe(text, shape, dtype)


def _facts(  # noqa: PLR0913 - the facts come from all of these
    path: Path,
    *,
    sha256: str,
    stored: Stored,
    own: Profile,
    working: Profile,
    clipped_count: int,
) -> MasterFacts:
    turned = stored.orientation_flag >= _TRANSPOSED
    numbers = stored.width_px * stored.height_px * stored.samples
    return MasterFacts(
        path=str(path),
        sha256=sha256,
        file_format=stored.file_format,
        width_px=stored.height_px if turned else stored.width_px,
        height_px=stored.width_px if turned else stored.height_px,
        channels=working.channels,
        bits=stored.dtype.itemsize * 8,
        is_float=stored.dtype.kind == "f",
        orientation_flag=stored.orientation_flag,
        profile_name=own.name,
        profile_sha256=own.sha256,
        profile_is_assumed=not stored.profile_data,
        profile_is_table=own.is_table,
        alpha_was_flattened=stored.transparency is not Transparency.NONE,
        clipped_share=clipped_count / numbers,
        page_count=stored.page_count,
        creator=stored.provenance.creator,
        copyright_notice=stored.provenance.copyright_notice,
        has_location=stored.provenance.has_location,
    )
