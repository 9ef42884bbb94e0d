"""From where are a master's pixels taken: its file, or a decoded copy?"""

from __future__ import annotations

import hashlib
import os
import weakref
from contextlib import ExitStack
from dataclasses import dataclass
from typing import TYPE_CHECKING

import imagecodecs
import numpy as np
import PIL

from printplan.errors import MasterError, Setting
from printplan.pixels.master_file import Stored, Transparency, own_profile, refuse
from printplan.pixels.master_reading import (
    damage_reported,
    decoded_planes,
    describe,
    mapped_pixels,
    open_file,
)
from printplan.pixels.working_copy import (
    WorkingCopy,
    copy_path,
    default_cache_folder,
    open_copy,
    write_copy,
)
from printplan.pixels.working_pixels import (
    Working,
    code_tables,
    working_kind,
    working_profile,
)
from printplan.spec import AlphaRule, MasterFacts

if TYPE_CHECKING:
    from io import BufferedReader
    from pathlib import Path

    from numpy.typing import NDArray

    from printplan.colour.profiles import Profile

_COPY_VERSION = 1
"""Raised when the same master would give other working pixels than before."""


@dataclass(kw_only=True, eq=False)
class Source:
    """
    An open master: what it is, and its working pixels as they are looked at.

    Attributes
    ----------
    profile, source_profile : Profile
        Of the working pixels, and of the file.
    planes : ndarray, shape (channels, height, width)
        A view of the working pixels as the picture is looked at.
    tables : ndarray or None
        Linear light of each code, or None if the pixels are linear already.
    owner : BufferedReader or WorkingCopy
        What the pixels lie in.
    stamp : tuple of int
        Of the file when it was hashed.
    close : callable
        Lets go of the owner; at the latest when the source is thrown away.
    """

    facts: MasterFacts
    profile: Profile
    source_profile: Profile
    planes: NDArray[np.generic]
    tables: NDArray[np.float32] | None
    owner: BufferedReader | WorkingCopy
    stamp: tuple[int, int]

    def __post_init__(self) -> None:
        self.close = weakref.finalize(self, self.owner.close)

    @property
    def is_transposed(self) -> bool:
        """Whether stored rows are columns of `planes`."""
        return self.facts.orientation_flag >= 5

    def require_unchanged(self) -> None:
        """
        Make sure that the file read in place is still the one that was hashed.

        Raises
        ------
        MasterError
            If it was written to, or closed by another thread.
        """
        if isinstance(self.owner, WorkingCopy):
            return
        try:
            stamp = _stamp(self.owner)
        except ValueError as error:
            raise MasterError(
                f"The master {self.facts.path} was closed.",
                remedy="Open it again.",
            ) from error
        if stamp != self.stamp:
            refuse_changed(self.facts.path)


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
        stamp = _stamp(stream)
        with damage_reported(path):
            sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
        stored = describe(stream, path)
        own = own_profile(path, stored, assume_profile)
        _check_transparency(path, stored, alpha)
        kind = working_kind(stored, own)
        working = working_profile(kind, own)
        planes = None
        if kind is Working.CODES:
            planes = mapped_pixels(stream, path, stored)
        copy = None
        if planes is None:
            shape = (working.channels, stored.height_px, stored.width_px)
            dtype = stored.dtype if kind is Working.CODES else np.dtype(np.float32)
            recipe = _recipe(sha256, kind, own, working)
            target = copy_path(cache_folder or default_cache_folder(), recipe)
            copy = open_copy(target, shape, dtype) or write_copy(
                target, shape, dtype, decoded_planes(stream, path, stored, own, kind)
            )
            opened.callback(copy.close)
            planes = copy.planes
        if _stamp(stream) != stamp:
            refuse_changed(str(path))
        source = Source(
            facts=_facts(
                path,
                sha256=sha256,
                stored=stored,
                own=own,
                working=working,
                copy=copy,
            ),
            profile=working,
            source_profile=own,
            planes=oriented(planes, stored.orientation_flag),
            tables=code_tables(stored, own) if kind is Working.CODES else None,
            owner=stream if copy is None else copy,
            stamp=stamp,
        )
        if copy is not None:
            stream.close()
        opened.pop_all()
        return source


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
    if flag >= 5:
        planes = planes.transpose(0, 2, 1)
    if flag in (3, 4, 7, 8):
        planes = planes[:, ::-1]
    if flag in (2, 3, 6, 7):
        planes = planes[:, :, ::-1]
    return planes


def refuse_changed(path: str) -> None:
    """
    Say that a master was written to while it was read.

    Raises
    ------
    MasterError
        Always.
    """
    refuse(
        f"{path} changed while it was read.",
        remedy="Let the other program finish saving, then open the master again.",
    )


def _stamp(stream: BufferedReader) -> tuple[int, int]:
    """Size and time of change of an open file, whatever its name now is."""
    status = os.fstat(stream.fileno())
    return status.st_size, status.st_mtime_ns


def _check_transparency(path: Path, stored: Stored, alpha: AlphaRule) -> None:
    if stored.transparency is not Transparency.NONE and alpha is AlphaRule.REFUSE:
        refuse(
            f"{path} carries transparency.",
            remedy="Flatten it and export it again, or let it be laid on paper white.",
            setting=Setting.ALPHA,
        )


def _recipe(sha256: str, kind: Working, own: Profile, working: Profile) -> str:
    """All that working pixels depend on, the versions of the decoders among it."""
    return "\n".join(
        [
            f"printplan working copy {_COPY_VERSION}",
            f"imagecodecs {imagecodecs.__version__}",
            f"Pillow {PIL.__version__}",
            kind,
            own.sha256,
            working.sha256,
            sha256,
        ]
    )


def _facts(  # noqa: PLR0913 - the facts come from all of these
    path: Path,
    *,
    sha256: str,
    stored: Stored,
    own: Profile,
    working: Profile,
    copy: WorkingCopy | None,
) -> MasterFacts:
    turned = stored.orientation_flag >= 5
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
        clipped_share=0.0 if copy is None else copy.clipped_count / numbers,
        page_count=stored.page_count,
        creator=stored.provenance.creator,
        copyright_notice=stored.provenance.copyright_notice,
        has_location=stored.provenance.has_location,
    )
