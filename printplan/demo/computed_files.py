"""Which computed files are still right, and which has the user changed?"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.free_name import part_path

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


MANIFEST_NAME = ".printplan-demo.json"
"""What was made in a folder, from what."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """
    One file to have.

    Attributes
    ----------
    path : str
        Within the folder, with forward slashes.
    made_from : str
        Changes whenever the file should be made anew.
    make : callable
        Writes the file to the path that it is given.
    """

    path: str
    made_from: str
    make: Callable[[Path], None]


@dataclass(frozen=True, slots=True)
class _Made:
    """What the manifest holds of one file."""

    made_from: str
    sha256: str
    earlier_sha256: str
    size_bytes: int
    modified_ns: int


def make_missing(
    folder: Path,
    recipes: tuple[Recipe, ...],
    *,
    progress: Callable[[str], None] | None = None,
) -> tuple[Path, ...]:
    """
    Make the files that are missing or out of date.

    Parameters
    ----------
    folder : Path
        Made if missing.
    progress : callable, optional
        Takes one line for each file made, before it is made.

    Returns
    -------
    tuple of Path
        Files that are not as this package made them. They are the user's now, and
        were left alone.

    Raises
    ------
    RecordError
        If the folder cannot be written, or its manifest cannot be read.

    Notes
    -----
    A file is written beside its place and moved there whole. The manifest is
    written before that move and remembers the file before it, so a crash at any
    moment leaves files that are known. It is read anew for each file, because
    another process may be at work in the same folder.
    """
    changed = []
    try:
        for recipe in recipes:
            path = folder / recipe.path
            if path.exists():
                made = _read_manifest(folder).get(recipe.path)
                if made is None or not _is_ours(path, made):
                    changed.append(path)
                    continue
                if _is_current(path, made, recipe):
                    continue
            if progress is not None:
                progress(f"Making {recipe.path}")
            _make(folder, recipe)
    except OSError as error:
        raise RecordError(
            f"The demo cannot be made in {folder} ({error.strerror or error}).",
            remedy="Choose a folder of your own with 300 MB free.",
        ) from error
    return tuple(changed)


def _make(folder: Path, recipe: Recipe) -> None:
    path = folder / recipe.path
    path.parent.mkdir(parents=True, exist_ok=True)
    part = part_path(path)
    try:
        recipe.make(part)
        manifest = _read_manifest(folder)
        before = manifest.get(recipe.path)
        status = part.stat()
        manifest[recipe.path] = _Made(
            made_from=recipe.made_from,
            sha256=file_sha256(part),
            earlier_sha256=before.sha256 if before is not None else "",
            size_bytes=status.st_size,
            modified_ns=status.st_mtime_ns,
        )
        _write_manifest(folder, manifest)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _is_ours(path: Path, made: _Made) -> bool:
    """Whether a file is one that this package wrote, by its date or its hash."""
    if _is_untouched(path, made):
        return True
    return file_sha256(path) in {made.sha256, made.earlier_sha256}


def _is_current(path: Path, made: _Made, recipe: Recipe) -> bool:
    if made.made_from != recipe.made_from:
        return False
    return _is_untouched(path, made) or file_sha256(path) == made.sha256


def _is_untouched(path: Path, made: _Made) -> bool:
    """Same size and time: then the hash is not taken, which would take a second."""
    status = path.stat()
    return (status.st_size, status.st_mtime_ns) == (made.size_bytes, made.modified_ns)


def file_sha256(path: Path) -> str:
    """
    Hash of a file.

    Returns
    -------
    str
        SHA-256, hexadecimal.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _read_manifest(folder: Path) -> dict[str, _Made]:
    path = folder / MANIFEST_NAME
    if not path.exists():
        return {}
    try:
        rows = json.loads(path.read_bytes())
        return {name: _Made(**row) for name, row in rows.items()}
    except (ValueError, TypeError, AttributeError) as error:
        raise RecordError(
            f"The list of demo files {path} cannot be read ({error}).",
            remedy="Remove it and the demo's profiles and masters; they are made anew.",
        ) from error


def _write_manifest(folder: Path, manifest: dict[str, _Made]) -> None:
    path = folder / MANIFEST_NAME
    part = part_path(path)
    rows = {name: asdict(made) for name, made in manifest.items()}
    part.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    part.replace(path)
