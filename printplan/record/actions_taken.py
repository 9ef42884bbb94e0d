"""What was done about the findings of a print that is recorded already?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.errors import RecordError
from printplan.record.atomic_write import locked, read_text, write_text
from printplan.record.record_file import RECORD_COMMENTS, RECORD_KIND, parse_record_text
from printplan.record.suggestions import did_you_mean
from printplan.record.toml_writing import cannot_edit, edited_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from printplan.record.record import PrintRecord


def with_actions(record: PrintRecord, answers: Mapping[str, str]) -> PrintRecord:
    """
    The same record with other answers to its findings.

    Parameters
    ----------
    answers : mapping of str to str
        What was done about a finding, by its `topic`; what is not named stays.

    Raises
    ------
    RecordError
        If an answer belongs to no finding.
    """
    known = [kept.finding.topic for kept in record.findings]
    for about in answers:
        if about not in known:
            raise RecordError(
                f'There is no finding about "{about}" in the record.',
                remedy=did_you_mean(about, known),
            )
    findings = (
        replace(kept, done=answers.get(kept.finding.topic, kept.done))
        for kept in record.findings
    )
    return replace(record, findings=tuple(findings))


def save_actions(path: str | Path, answers: Mapping[str, str]) -> None:
    """
    Write answers into the file of a record; all else in it stays as it is.

    Parameters
    ----------
    path : str or Path
        The record.
    answers : mapping of str to str
        As for `with_actions`.

    Raises
    ------
    RecordError
        If it is not a record, an answer belongs to no finding, or it cannot be
        written.
    SpecError
        If a value in it leaves its range.
    """
    target = Path(path).resolve()
    with locked(target) as still_locked:
        text = read_text(target)
        old = parse_record_text(text, where=str(path))
        new = with_actions(old, answers)
        if new == old:
            return
        edited = edited_text(text, old, new, RECORD_COMMENTS, where=str(path))
        if parse_record_text(edited, where=str(path)) != new:
            raise cannot_edit(str(path))

        def is_as_read() -> bool:
            return still_locked() and read_text(target) == text

        if not write_text(
            edited, target, RECORD_KIND, overwrite=True, permitted=is_as_read
        ):
            raise RecordError(
                f"{path} was changed by another program meanwhile.",
                remedy="Keep the answers again; they go into what it says now.",
            )
