"""How is what a scanner makes of a sharp edge kept in a file?"""

from __future__ import annotations

from pathlib import Path

from printplan.errors import SpecError
from printplan.foreign_file import named, read_foreign
from printplan.free_name import give_free_name
from printplan.record.atomic_write import part_beside
from printplan.sharpening.response import SpreadCurve
from printplan.validation import table_of_numbers

_HEAD = "# cycles per mm, contrast left\n"
_LONGEST_FILE = 1_000_000


def read_response(path: str | Path) -> SpreadCurve:
    """
    Read a scanner's response from a CSV file.

    Parameters
    ----------
    path : str or Path
        A frequency in cycles per mm of the scanned paper and the contrast left there
        on each line, with points and a comma, frequencies rising from above 0. Lines
        that begin with ``#`` are skipped.

    Returns
    -------
    SpreadCurve
        For `spread_from_scan`.

    Raises
    ------
    SpecError
        If it cannot be read, or is no such curve.
    """
    remedy = (
        "Write a line for each frequency: cycles per mm, a comma, and the contrast "
        "left, such as 5.0, 0.93."
    )
    data = read_foreign(
        path, raises=SpecError, what="The response", most_bytes=_LONGEST_FILE
    )
    rows = table_of_numbers(data, f"The response {named(path)}", remedy)
    if rows.shape[1] != 2:
        raise SpecError(
            f"The response {named(path)} has {rows.shape[1]} numbers on a line.",
            remedy=remedy,
        )
    frequencies, contrasts = rows.T.tolist()
    return SpreadCurve(cycles_per_mm=tuple(frequencies), values=tuple(contrasts))


def write_response(curve: SpreadCurve, path: str | Path) -> None:
    """
    Write a scanner's response into a new CSV file, for `read_response`.

    Raises
    ------
    RecordError
        If there is such a file, or it cannot be written.
    """
    path = Path(path)
    pairs = zip(curve.cycles_per_mm, curve.values, strict=True)
    text = _HEAD + "".join(f"{float(x)!r}, {float(y)!r}\n" for x, y in pairs)
    with part_beside(path, if_exists="Choose another name for the response.") as part:
        part.write_text(text, encoding="utf-8")
        give_free_name(part, path)
