"""Does the same print come out again, and in what do two prints differ?"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from enum import StrEnum
from itertools import zip_longest
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

from printplan.colour.profiles import open_profile
from printplan.errors import ProfileError, RecordError, Setting, SpecError
from printplan.foreign_file import is_regular
from printplan.free_name import free_path
from printplan.pixels.master import open_master
from printplan.pixels.render import Rendered, render
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.record.record import changed_versions, running_versions
from printplan.sharpening.kernel import read_kernel
from printplan.units import LengthUnit, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from printplan.pixels.master import Master
    from printplan.pixels.picture_file import Progress
    from printplan.pixels.sheet import Sheet
    from printplan.record.record import PrintRecord

    _Place = tuple[str, ...]


_UNITS = {
    "_cd_m2": "cd/m²",
    "_gsm": "g/m²",
    "_lx": "lx",
    "_mm": "mm",
    "_um": "µm",
    "_px": "px",
    "_l": "L*",
}
"""What the ends of our own names stand for."""

_PLACES = {
    "rendered": "file",
    "facts": "master",
    "spec": "",
    "sharpen": "sharpening",
    "on_printer": "paper on printer",
    "bytes_written": "length in bytes",
    "made_at": "made at",
    "plan_note": "note in the plan",
    "done": "done about it",
}
_ALWAYS_MM = "radius_mm"
_NAMED_BY = ("name", "printer", "topic", "on")
_HASH_DIGITS = 64
_SHOWN_DIGITS = 12
_NOTHING = (None, "", ())
_ABSENT = "not given"
_COLUMN = 40
_GAP = "   "


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """
    One value that differs between two prints.

    Attributes
    ----------
    what : str
        In words, such as ``sharpening, radius``.
    first, second : str
        With their units.
    """

    what: str
    first: str
    second: str


def compare_records(first: PrintRecord, second: PrintRecord) -> tuple[Difference, ...]:
    """
    All values that differ between two records, in the unit of the second.

    Returns
    -------
    tuple of Difference
        In the order of a record; empty if the two are the same.
    """
    return compare_values(first, second, second.spec.lengths_in)


def compare_values(
    first: object, second: object, unit: LengthUnit = LengthUnit.MM
) -> tuple[Difference, ...]:
    """
    All plain values that differ between two frozen values of one kind.

    Parameters
    ----------
    first, second : dataclass
        Such as two specs.
    unit : LengthUnit, optional
        That lengths are told in, but for the radius of sharpening: it would be
        thousandths of an inch.

    Returns
    -------
    tuple of Difference
        In the order of their fields; empty if the two are the same.
    """
    ours, theirs = dict(_values(first, ())), dict(_values(second, ()))
    places = [*ours, *(place for place in theirs if place not in ours)]
    return tuple(
        _difference(place, ours.get(place), theirs.get(place), unit)
        for place in places
        if _present(ours.get(place)) != _present(theirs.get(place))
    )


def side_by_side(
    differences: Sequence[Difference], *, first: str = "first", second: str = "second"
) -> str:
    """
    Differences as a table of text.

    Parameters
    ----------
    first, second : str, optional
        Names of the two prints.

    Returns
    -------
    str
        Three columns, broken where they are long; one sentence if there are none.
    """
    if not differences:
        return "The two records are the same."
    rows = [
        ("", first, second),
        *((it.what, it.first, it.second) for it in differences),
    ]
    return "\n".join(line for row in rows for line in _row_lines(row))


def _row_lines(row: tuple[str, ...]) -> Iterator[str]:
    columns = [wrap(cell, _COLUMN) for cell in row]
    for cells in zip_longest(*columns, fillvalue=""):
        yield _GAP.join(f"{cell:<{_COLUMN}}" for cell in cells).rstrip()


def _difference(
    place: _Place, first: object, second: object, unit: LengthUnit
) -> Difference:
    shown = _shown(place, first, unit), _shown(place, second, unit)
    if shown[0] == shown[1]:  # they differ in digits that are not shown
        shown = str(first), str(second)
    return Difference(what=_words(place), first=shown[0], second=shown[1])


def _present(value: object) -> object:
    """A value, with all ways of giving none alike."""
    return None if value in _NOTHING else value


def _values(value: object, place: _Place) -> Iterator[tuple[_Place, object]]:
    """Each plain value below a value, by its place."""
    if is_dataclass(value):
        for field in fields(value):
            yield from _values(getattr(value, field.name), (*place, field.name))
    elif isinstance(value, tuple) and any(map(is_dataclass, value)):
        for number, one in enumerate(value, 1):
            yield from _values(one, (*place, _name(one, number)))
    else:
        yield place, value


def _name(value: object, number: int) -> str:
    """What tells one value of a list from the others, wherever it stands."""
    value = getattr(value, "finding", value)
    for key in _NAMED_BY:
        if hasattr(value, key):
            return f'"{getattr(value, key)}"'
    return f"no. {number}"


def _words(place: _Place) -> str:
    parts = []
    for part in place:
        bare = part
        for end in _UNITS:
            bare = bare.removesuffix(end)
        parts.append(_PLACES.get(part, bare.replace("_", " ")))
    return ", ".join(filter(None, parts))


def _number(name: str, value: float, unit: LengthUnit) -> str:
    if name.endswith("_mm") and name != _ALWAYS_MM and unit is LengthUnit.INCHES:
        return short_words(unit, value)
    units = (unit for end, unit in _UNITS.items() if name.endswith(end))
    number = f"{value:.6g}" if isinstance(value, float) else str(value)
    return f"{number} {next(units, '')}".rstrip()


def _shown(place: _Place, value: object, unit: LengthUnit) -> str:
    if _present(value) is None:
        return _ABSENT
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(_shown((), one, unit) for one in value)
    name = place[-1] if place else ""
    if isinstance(value, float | int):
        return _number(name, value, unit)
    text = str(value)
    if len(text) == _HASH_DIGITS and name.endswith(("sha256", "blake3")):
        return f"{text[:_SHOWN_DIGITS]}…"
    return text


class Outcome(StrEnum):
    """How a file made again compares with the recorded one."""

    IDENTICAL = "identical"
    SAME_PIXELS = "same-pixels"
    DIFFERENT_PIXELS = "different-pixels"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reprint:
    """
    A file made again.

    Attributes
    ----------
    reasons : tuple of str
        What is not as it was; empty if nothing that the record keeps has changed.
    rendered : Rendered
        The new file.
    """

    outcome: Outcome
    reasons: tuple[str, ...]
    rendered: Rendered

    @property
    def words(self) -> str:
        """Outcome and reasons in sentences."""
        shown = _OUTCOME_WORDS[self.outcome]
        changed = "; ".join(self.reasons)
        if self.outcome is Outcome.IDENTICAL:
            return f"{shown} Changed all the same: {changed}." if changed else shown
        if changed:
            return f"{shown} Changed since: {changed}."
        return (
            f"{shown} Nothing that the record keeps has changed; the machine may have."
        )


_OUTCOME_WORDS = {
    Outcome.IDENTICAL: "Identical: the same file, byte for byte.",
    Outcome.SAME_PIXELS: "The same pixels in another file: the print will be the same.",
    Outcome.DIFFERENT_PIXELS: "Different pixels: the print may look different.",
}


def reprint(
    record: PrintRecord,
    path: str | Path,
    *,
    master: str | Path | None = None,
    overwrite: bool = False,
    progress: Progress | None = None,
) -> Reprint:
    """
    Make the file of a record again, and compare.

    Parameters
    ----------
    record : PrintRecord
        With absolute paths, as `read_record` gives it.
    path : str or Path
        The new file.
    master : str or Path, optional
        Where the master lies now, if not where it was.
    overwrite : bool, optional
        Permits a file of that name to be replaced; never the master.
    progress : Progress, optional
        Told of each band written.

    Returns
    -------
    Reprint
        On the same versions the outcome is `IDENTICAL`.

    Raises
    ------
    RecordError
        If master or profile are missing or not the recorded ones; no file is made.
    RenderError
        If the file cannot be written.
    """
    sheet = open_record(record, master=master)
    with sheet.master:
        made = render(
            sheet,
            path,
            overwrite=overwrite,
            progress=progress,
            with_pixel_sha256=not record.rendered.pixel_blake3,
        )
    return Reprint(
        outcome=_outcome(record, made),
        reasons=changed_versions(record.versions, running_versions()),
        rendered=made,
    )


def open_record(record: PrintRecord, *, master: str | Path | None = None) -> Sheet:
    """
    Open what a record names, if all of it is as it was.

    Parameters
    ----------
    record : PrintRecord
        With absolute paths.
    master : str or Path, optional
        Where the master lies now, if not where it was.

    Returns
    -------
    Sheet
        Nothing is computed yet. Close its master when done with it.

    Raises
    ------
    RecordError
        If master or profile are missing or not the recorded ones.
    """
    _require_profile(record)
    _require_kernel(record)
    opened = _open_master(record, record.master.file if master is None else str(master))
    try:
        plan = resolve(opened.facts, record.paper, record.printer, record.spec)
        return build_sheet(opened, plan)
    except BaseException:
        opened.close()
        raise


def reprint_path(record: PrintRecord, folder: Path) -> Path:
    """
    A name for the new file that is not taken.

    Returns
    -------
    Path
        In that folder: the recorded file's name and ``-again``, with a number where
        that is needed.
    """
    made = Path(record.rendered.path)
    return free_path(folder / f"{made.stem}-again{made.suffix}")


def _outcome(record: PrintRecord, made: Rendered) -> Outcome:
    if made.sha256 == record.rendered.sha256:
        return Outcome.IDENTICAL
    then = record.rendered
    if then.pixel_blake3:
        is_same = made.pixel_blake3 == then.pixel_blake3
    else:
        is_same = made.pixel_sha256 == then.pixel_sha256
    return Outcome.SAME_PIXELS if is_same else Outcome.DIFFERENT_PIXELS


def _require_profile(record: PrintRecord) -> None:
    """Refuse a profile that is not the recorded one, before anything is computed."""
    path = record.paper.on(record.printer, record.spec.setup).profile
    wanted = record.profile.sha256
    try:
        found = open_profile(path).sha256
    except ProfileError as error:
        raise RecordError(
            f'{error.problem} The print was made with "{record.profile.description}".',
            remedy=f"Put back the profile whose SHA-256 begins {_short(wanted)}.",
        ) from error
    if found != wanted:
        raise RecordError(
            f"The profile {path} has changed: its SHA-256 begins {_short(found)}, and "
            f"{_short(wanted)} when the print was made.",
            remedy="Put the old profile back to get the same print, or render the plan "
            "for a new one.",
        )


def _require_kernel(record: PrintRecord) -> None:
    """Refuse a kernel that is not the recorded one."""
    path, wanted = record.spec.sharpen.kernel, record.kernel_sha256
    if not path:
        return
    try:
        found = read_kernel(path).sha256
    except SpecError as error:
        raise RecordError(
            error.problem,
            remedy=f"Put back the file whose SHA-256 begins {_short(wanted)}.",
        ) from error
    if found != wanted:
        raise RecordError(
            f"The kernel {path} has changed: its SHA-256 begins {_short(found)}, and "
            f"{_short(wanted)} when the print was made.",
            remedy="Put the old file back to get the same print, or render the plan "
            "for a new one.",
        )


def _open_master(record: PrintRecord, path: str) -> Master:
    wanted = record.facts.sha256
    if not is_regular(path):
        raise RecordError(
            f"The master {path} is not there.",
            remedy=f"Say where it lies now; its SHA-256 begins {_short(wanted)}.",
            setting=Setting.MASTER,
        )
    spec = replace(record.master, file=path)
    opened = open_master(
        spec.file, assume_profile=spec.assume_profile, alpha=spec.alpha
    )
    facts = opened.facts
    if (facts.sha256, facts.profile_sha256) == (wanted, record.facts.profile_sha256):
        return opened
    opened.close()
    if facts.sha256 != wanted:
        raise RecordError(
            f"The master {path} is not the one that was printed: its SHA-256 begins "
            f"{_short(facts.sha256)}, and {_short(wanted)} when the print was made.",
            remedy="Put the old master back or name a copy of it, or render the plan "
            "for a new print.",
            setting=Setting.MASTER,
        )
    raise RecordError(
        f'The master {path} is read as "{facts.profile_name}" now, and was read as '
        f'"{record.facts.profile_name}".',
        remedy="Put back the profile that was assumed for it: its SHA-256 begins "
        f"{_short(record.facts.profile_sha256)}.",
    )


def _short(sha256: str) -> str:
    return sha256[:_SHOWN_DIGITS]
