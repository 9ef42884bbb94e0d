"""What is laid beside a finished file, and under which name?"""

from __future__ import annotations

from dataclasses import replace
from glob import escape
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError
from printplan.free_name import free_paths
from printplan.record.cost import hourly_rate_in, recorded_cost
from printplan.record.record_file import read_record, write_record
from printplan.record.reprint import open_record

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.record.record import PrintRecord


RECORD_ENDING: Final = ".record.toml"
"""After the whole name of the file: `print.tif.record.toml` is of `print.tif`."""
SHEET_ENDINGS: Final = (".decision.html", ".decision.pdf")


def records_in(folder: str | Path) -> tuple[Path, ...]:
    """
    The records that lie in a folder.

    Returns
    -------
    tuple of Path
        Newest first, by when they were last written.

    Raises
    ------
    RecordError
        If the folder cannot be read.
    """
    try:
        found = [
            (path.stat().st_mtime_ns, path)
            for path in Path(folder).iterdir()
            if path.name.endswith(RECORD_ENDING) and path.is_file()
        ]
    except OSError as error:
        raise RecordError(
            f"The folder {folder} cannot be read ({error.strerror or error}).",
            remedy="Choose another folder, or check that you may read this one.",
        ) from error
    return tuple(path for _, path in sorted(found, reverse=True))


def write_sidecar_record(record: PrintRecord) -> Path:
    """
    Write a record beside its finished file.

    Parameters
    ----------
    record : PrintRecord
        With absolute paths, as `make_record` gives it.

    Returns
    -------
    Path
        The file's whole name and `RECORD_ENDING`, with a number between where that is
        taken by the record of an earlier file of this name.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    made = Path(record.rendered.path)
    (path,) = free_paths(made.parent, made.name, (RECORD_ENDING,))
    write_record(record, path)
    return path


def free_print_path(path: str | Path) -> Path:
    """
    That path for a new file, or the first numbered one that no file had before.

    Returns
    -------
    Path
        With ``-2``, ``-3`` and so on before the ending if need be. The name of a file
        that has gone and left its record is not given again: two records would name
        one file.
    """
    path = Path(path)
    endings = (path.suffix, f"{path.suffix}{RECORD_ENDING}")
    return free_paths(path.parent, path.stem, endings)[0]


def sidecar_sheets(record_path: str | Path) -> tuple[Path, ...]:
    """
    The pages of a record's decision sheet that lie beside it, the newest of each kind.

    Returns
    -------
    tuple of Path
        The HTML before the PDF; empty if none was written.
    """
    record_path = Path(record_path).absolute()
    folder, name = record_path.parent, _bare(record_path)
    found = []
    for ending in SHEET_ENDINGS:
        own = []
        for path in folder.glob(f"{escape(name)}*{ending}"):
            bare = path.name.removesuffix(ending)
            number = bare.removeprefix(name)
            # What begins with the name of another record is that record's page.
            is_numbered = number[:1] == "-" and number[1:].isdecimal()
            of_other = (folder / f"{bare}{RECORD_ENDING}").exists()
            if bare == name or (is_numbered and not of_other):
                own.append(path)
        found += sorted(own, key=lambda it: it.stat().st_mtime_ns)[-1:]
    return tuple(found)


def _bare(record_path: Path) -> str:
    return record_path.name.removesuffix(RECORD_ENDING)


def write_sidecar_sheets(
    record_path: str | Path,
    *,
    currency: str = "",
    report: Callable[[str], None] = lambda _: None,
) -> tuple[Path, Path]:
    """
    Write the decision sheet of a record beside it, as HTML and as PDF.

    Parameters
    ----------
    currency : str, optional
        Of prices that name none: the paper book's own.
    report : callable, optional
        Takes a line about what is being done now.

    Returns
    -------
    tuple of Path
        The HTML and the PDF: the record's name and `SHEET_ENDINGS`, with one number
        for both where either is taken.

    Raises
    ------
    RecordError
        If the record cannot be read, or master or profile are not the recorded ones.
    PrintPlanError
        If they cannot be opened, or a page not be written.
    """
    # Plots and PDF take half a second to load, which opening a job need not wait for.
    from printplan.record.decision_sheet.facts import (  # noqa: PLC0415 - see above
        decision_facts,
    )
    from printplan.record.decision_sheet.write import (  # noqa: PLC0415 - see above
        write_decision_sheet,
    )

    record_path = Path(record_path).absolute()
    record = read_record(record_path)
    cost = recorded_cost(record, hourly_rate=hourly_rate_in(record.book))
    if cost is not None and not cost.currency:
        cost = replace(cost, currency=currency)
    report("Opening the master and the profile of this print.")
    sheet = open_record(record)
    with sheet.master:
        report("Measuring the picture and comparing the intents.")
        facts = decision_facts(record, sheet, cost=cost)
    page, pdf = free_paths(record_path.parent, _bare(record_path), SHEET_ENDINGS)
    report(f"Writing {page.name} and {pdf.name}.")
    return write_decision_sheet(facts, page), write_decision_sheet(facts, pdf)
