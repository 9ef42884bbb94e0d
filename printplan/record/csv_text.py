"""How is a table written that a spreadsheet reads, and does not act on?"""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_FORMULA_SIGNS: Final = (*"=+-@\t\r\n", *"\uff1d\uff0b\uff0d\uff20")


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """
    Rows as comma-separated values.

    Parameters
    ----------
    head : sequence of str
        Names of the columns.
    rows : iterable of sequence of object
        Text, numbers, or None for what is not known.

    Returns
    -------
    str
        Lines end in CR LF, and text stands in double quotes [1]_. What is not known is
        empty.

    Notes
    -----
    A text that begins as a formula does gets an apostrophe before it, as OWASP advises
    [2]_: the program that reads the table shows it and does not act on it. Numbers
    stay numbers.

    References
    ----------
    .. [1] RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV)
       Files, section 2.
    .. [2] OWASP, CSV Injection: cells that begin with =, +, -, @, tab or carriage
       return (from memory; a line feed and the full-width signs are added).

    Examples
    --------
    >>> "'=1+1" in csv_text(["row", "note"], [[2, "=1+1"]])
    True
    """
    file = StringIO()
    writer = csv.writer(file, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([_inert(it) for it in row] for row in rows)
    return file.getvalue()


def _inert(cell: object) -> object:
    is_formula = isinstance(cell, str) and cell.startswith(_FORMULA_SIGNS)
    return f"'{cell}" if is_formula else cell
