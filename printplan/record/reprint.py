"""Does the same print come out again, and if not, what has changed?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.colour.profiles import open_profile
from printplan.errors import ProfileError, RecordError
from printplan.pixels.master import open_master
from printplan.pixels.render import Rendered, render
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.record.versions import changed_versions, running_versions

if TYPE_CHECKING:
    from printplan.pixels.master import Master
    from printplan.pixels.picture_file import Progress
    from printplan.pixels.sheet import Sheet
    from printplan.record.record import PrintRecord

_SHOWN_DIGITS = 12


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
    outcome : Outcome
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
        told = _OUTCOME_WORDS[self.outcome]
        changed = "; ".join(self.reasons)
        if self.outcome is Outcome.IDENTICAL:
            return f"{told} Changed all the same: {changed}." if changed else told
        if changed:
            return f"{told} Changed since: {changed}."
        return (
            f"{told} Nothing that the record keeps has changed; the machine may have."
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
        With whole paths, as `read_record` gives it.
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
        made = render(sheet, path, overwrite=overwrite, progress=progress)
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
        With whole paths.
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
    opened = _open_master(record, record.master.file if master is None else str(master))
    try:
        plan = resolve(opened.facts, record.paper, record.printer, record.spec)
        return build_sheet(opened, plan)
    except BaseException:
        opened.close()
        raise


def free_name(record: PrintRecord, folder: Path) -> Path:
    """
    A name for the new file that is not taken.

    Parameters
    ----------
    record : PrintRecord
    folder : Path

    Returns
    -------
    Path
        In that folder: the recorded file's name and ``-again``, with a number where
        that is needed.
    """
    made = Path(record.rendered.path)
    target = folder / f"{made.stem}-again{made.suffix}"
    number = 2
    while target.exists():
        target = folder / f"{made.stem}-again-{number}{made.suffix}"
        number += 1
    return target


def _outcome(record: PrintRecord, made: Rendered) -> Outcome:
    if made.sha256 == record.rendered.sha256:
        return Outcome.IDENTICAL
    if made.pixel_sha256 == record.rendered.pixel_sha256:
        return Outcome.SAME_PIXELS
    return Outcome.DIFFERENT_PIXELS


def _require_profile(record: PrintRecord) -> None:
    """Refuse a profile that is not the recorded one, before anything is computed."""
    path = record.paper.on(record.printer).profile
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


def _open_master(record: PrintRecord, path: str) -> Master:
    wanted = record.facts.sha256
    if not Path(path).is_file():
        raise RecordError(
            f"The master {path} is not there.",
            remedy="Say where it lies now (master=..., or --master on the command "
            f"line); its SHA-256 begins {_short(wanted)}.",
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
            remedy="Put the old master back or name a copy of it (master=..., or "
            "--master on the command line), or render the plan for a new print.",
        )
    raise RecordError(
        f'The master {path} is read as "{facts.profile_name}" now, and was read as '
        f'"{record.facts.profile_name}".',
        remedy="Put back the profile that was assumed for it: its SHA-256 begins "
        f"{_short(record.facts.profile_sha256)}.",
    )


def _short(sha256: str) -> str:
    return sha256[:_SHOWN_DIGITS]
