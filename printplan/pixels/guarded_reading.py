"""What does a decoder find in a file of others, and what may it cost?"""

from __future__ import annotations

import os
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, NoReturn

from printplan.child_work import Budget, BudgetError, in_child
from printplan.errors import MasterError
from printplan.foreign_file import named
from printplan.pixels.master_reading import decoded_pixels, describe, open_file
from printplan.pixels.working_copy import WorkingCopy, make_copy, write_copy

if TYPE_CHECKING:
    from collections.abc import Iterator
    from io import BufferedReader
    from pathlib import Path

    from printplan.colour.profiles import Profile
    from printplan.pixels.master_file import Stored
    from printplan.pixels.sealed_pixels import Recipe
    from printplan.pixels.working_pixels import Working

Stamp = tuple[int, int, int, int]

_DESCRIBING = Budget(cpu_s=4, wall_s=60, memory_bytes=400_000_000)
"""Our choice: sound files take some hundredths of a second and a few MB, beside their
own bytes."""

_BASE_CPU_S, _NUMBERS_PER_S = 4, 2_000_000
"""What decoding may cost. Our choice: the slowest way here, 16 bits of LZMA with a
table profile, does some five million numbers a second."""

_BASE_BYTES, _BYTES_PER_NUMBER = 400_000_000, 8
"""The same of memory: PNG and JPEG are decoded whole, beside the bytes of the file."""

_PATIENCE = 20
"""Seconds on the clock for one of a processor: disks and networks are slow."""


def stamp_of(stream: BufferedReader) -> Stamp:
    """Which file an open one is, its size and time of change, whatever its name is."""
    status = os.fstat(stream.fileno())
    return status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns


def described(path: Path) -> tuple[Stamp, Stored]:
    """
    What a master says of itself, found where a decoder can hurt nothing.

    Raises
    ------
    MasterError
        If it is no picture, cannot be a master, or costs more than a sound one can.
    """
    with open_file(path) as stream:
        file_bytes = stamp_of(stream)[2]
    budget = replace(
        _DESCRIBING, memory_bytes=_DESCRIBING.memory_bytes + min(file_bytes, 10**9)
    )
    with excess_refused(path):
        return in_child(budget, _describe, path)


def decoding_budget(stored: Stored, stamp: Stamp) -> Budget:
    """What decoding a picture of this size may cost."""
    numbers = stored.width_px * stored.height_px * stored.samples
    cpu_s = _BASE_CPU_S + numbers / _NUMBERS_PER_S
    return Budget(
        cpu_s=cpu_s,
        wall_s=_PATIENCE * cpu_s,
        memory_bytes=_BASE_BYTES + stamp[2] + _BYTES_PER_NUMBER * numbers,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoding:
    """
    A master, and what is to be made of it.

    Attributes
    ----------
    stamp : tuple of int
        Of the file that is meant.
    """

    path: Path
    stamp: Stamp
    stored: Stored
    profile: Profile
    kind: Working
    recipe: Recipe


def decoded(decoding: Decoding, target: Path) -> WorkingCopy:
    """
    Decode a master into the cache, where a decoder can hurt nothing.

    Parameters
    ----------
    target : Path
        Name of the copy.

    Raises
    ------
    MasterError
        If its pixels do not decode, or the copy cannot be kept.
    """
    budget = decoding_budget(decoding.stored, decoding.stamp)

    def write(half: Path) -> None:
        in_child(budget, _decode, decoding, half)

    with excess_refused(decoding.path):
        return make_copy(target, decoding.recipe, write)


def refuse_changed(path: str | Path) -> NoReturn:
    """
    Say that a master was written to while it was read.

    Raises
    ------
    MasterError
        Always.
    """
    raise MasterError(
        f"{named(path)} changed while it was read.",
        remedy="Let the other program finish saving, then open the master again.",
    )


@contextmanager
def excess_refused(path: Path) -> Iterator[None]:
    """
    Say in words what became too much for a decoder.

    Raises
    ------
    MasterError
    """
    try:
        yield
    except BudgetError as error:
        raise MasterError(
            f"{named(path)} is damaged, or made to do harm: reading it takes {error}.",
            remedy="Copy or download the file again, or export it again.",
        ) from error


def _describe(path: Path) -> tuple[Stamp, Stored]:
    with open_file(path) as stream:
        return stamp_of(stream), describe(stream, path)


def _decode(decoding: Decoding, half: Path) -> None:
    path, stored = decoding.path, decoding.stored
    with open_file(path) as stream:
        if stamp_of(stream) != decoding.stamp:
            refuse_changed(path)
        decode = partial(
            decoded_pixels, stream, path, stored, decoding.profile, decoding.kind
        )
        write_copy(half, decoding.recipe, decode)
