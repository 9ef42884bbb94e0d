"""How does the journal become a table that any other program can read?"""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING, Final

from printplan.record.journal.rows import ENTRY_COLUMNS, moment_text, row_of_entry
from printplan.record.whole_file import FileKind, write_text

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from printplan.record.journal.kept import KeptEntry

_HEAD = ("entry_id", "revision", "changed_at", "why", "is_struck", "numbers")

_KIND: Final = FileKind(name='","'.join(_HEAD), version=1, heading="")
"""The header line begins so: what does not is another file, and is never replaced."""


def journal_csv(entries: Iterable[KeptEntry]) -> str:
    """
    Entries as comma-separated values.

    Parameters
    ----------
    entries : iterable of KeptEntry

    Returns
    -------
    str
        One line for each, after a line of names; lines end in CR LF, and text stands
        in double quotes [1]_. What is not known is empty.

    Notes
    -----
    Text is written as it is: a note that begins with an equals sign may be taken for
    a formula by the program that reads the table.

    References
    ----------
    .. [1] RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV)
       Files, section 2.
    """
    rows = [_row(kept) for kept in entries]
    file = StringIO()
    writer = csv.writer(file, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow([*_HEAD, *ENTRY_COLUMNS])
    writer.writerows(rows)
    return file.getvalue()


def write_journal_csv(
    entries: Iterable[KeptEntry], path: str | Path, *, overwrite: bool = False
) -> None:
    """
    Write entries as comma-separated values, whole or not at all.

    Parameters
    ----------
    entries : iterable of KeptEntry
        From `Journal.entries`, with `Journal.struck_entries` or `Journal.history` if
        those are wanted too.
    path : str or Path
        UTF-8.
    overwrite : bool, optional
        Permits an earlier table of this kind to be replaced.

    Raises
    ------
    RecordError
        If it exists already, is a file of another kind, or cannot be written.
    """
    write_text(journal_csv(entries), path, _KIND, overwrite=overwrite)


def _row(kept: KeptEntry) -> list[object]:
    return [
        kept.entry_id,
        kept.revision,
        moment_text(kept.changed_at),
        kept.why,
        int(kept.is_struck),
        "; ".join(f"{number.title} {number}" for number in kept.numbers),
        *row_of_entry(kept.entry).values(),
    ]
