"""Which measures of a picture does an earlier process or this one know already?"""

from __future__ import annotations

import hashlib
import json
from collections import OrderedDict
from contextlib import suppress
from dataclasses import asdict, replace
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Final, Generic, TypeVar

from printplan.free_name import part_path
from printplan.own_folders import own_file, sealed, unsealed
from printplan.pixels.working_copy import default_cache_folder

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.pixels.master import Master
    from printplan.spec import MasterFacts

MOST_FILES: Final = 2000
"""Measures kept on the disk, of some kilobytes each: the latest. Our choice."""

_MOST_BYTES: Final = 1_000_000
_MEASURE: Final = ("colour", "loops", "pixels", "sharpening", "sizing")
"""Folders of the package whose code measures."""

Key = TypeVar("Key")
Measures = TypeVar("Measures")


class KeptMeasures(Generic[Key, Measures]):
    """
    Measures of one kind, each taken once of a picture, however often it is opened.

    Measuring a master takes seconds, and the same one is checked, shown and printed by
    many commands. So the latest are kept in this process, and in the cache folder for
    the next: a file that is damaged, of another account or of other code is not read.

    Parameters
    ----------
    kind : str
        Begins their files' names: letters.
    most : int
        Kept in this process.
    read : callable
        Makes the measures out of what `json` read of their `dataclasses.asdict`.
    """

    def __init__(self, kind: str, most: int, read: Callable[[Any], Measures]) -> None:
        self._kind, self._most, self._read = kind, most, read
        self._known: OrderedDict[Key, Measures] = OrderedDict()
        self._measuring: dict[Key, Lock] = {}
        self._lock = Lock()

    def known(self, key: Key) -> Measures | None:
        """What this process knows already."""
        return self._known.get(key)

    def all_known(self) -> tuple[tuple[Key, Measures], ...]:
        """All that this process knows, the latest last."""
        with self._lock:
            return tuple(self._known.items())

    def of(self, key: Key, measure: Callable[[], Measures]) -> Measures:
        """
        What is known of a key, or else measured now.

        Parameters
        ----------
        key : hashable
            All that the measures depend on, with a ``repr`` that tells it.
        measure : callable
            Takes them; called by one thread at a time for a key.
        """
        with self._lock:
            turn = self._measuring.setdefault(key, Lock())
        with turn:
            try:
                found = self._known.get(key)
                if found is None:
                    found = self._kept_or_measured(key, measure)
                self._know(key, found)
            finally:
                with self._lock:
                    self._measuring.pop(key, None)
        return found

    def _know(self, key: Key, measures: Measures) -> None:
        with self._lock:
            self._known[key] = measures
            self._known.move_to_end(key)
            while len(self._known) > self._most:
                self._known.popitem(last=False)

    def _kept_or_measured(self, key: Key, measure: Callable[[], Measures]) -> Measures:
        path = default_cache_folder() / self._name(key)
        found = self._read_from(path)
        if found is None:
            found = measure()
            _write(path, json.dumps(asdict(found)))  # type: ignore[call-overload]
        return found

    def _name(self, key: Key) -> str:
        told = f"{_measuring_code()}\n{self._kind}\n{key!r}"
        return f"{self._kind}-{hashlib.sha256(told.encode()).hexdigest()[:32]}.json"

    def _read_from(self, path: Path) -> Measures | None:
        stream = own_file(path)
        if stream is None:
            return None
        try:
            with stream:
                text = unsealed(stream.read(_MOST_BYTES))
        except OSError:  # of the disk: it is measured again
            return None
        return None if text is None else self._read(json.loads(text))


def master_key(master: Master) -> MasterFacts:
    """What a master's own measures depend on: its hash, profile and transparency."""
    return replace(master.facts, path="")


def _write(path: Path, text: str) -> None:
    """Keep measures, if the disk takes them: else the next process measures again."""
    part = part_path(path)
    with suppress(OSError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            part.write_bytes(sealed(text.encode()))
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
        _make_room(path)


def _make_room(path: Path) -> None:
    """Take away the oldest of a kind."""
    kind, _, _ = path.name.partition("-")
    kept = sorted(path.parent.glob(f"{kind}-*.json"), key=lambda it: it.stat().st_mtime)
    for old in kept[:-MOST_FILES]:
        old.unlink(missing_ok=True)


@lru_cache(maxsize=1)
def _measuring_code() -> str:
    """What tells code that measures from any other."""
    told = hashlib.sha256("\n".join(map(version, ("numpy", "scipy"))).encode())
    package = Path(__file__).parent.parent
    for folder in _MEASURE:
        for path in sorted((package / folder).glob("**/*.py")):
            told.update(path.read_bytes())
    return told.hexdigest()
