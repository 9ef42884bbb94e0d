"""How do the rows of a table of prints look on the page?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.checks.finding import Level
from printplan.record.run.contact_sheet import cell_words
from printplan.record.run.totals import totals_rows
from printplan.shown_text import escape
from printplan.workbook.panels.jobs import asked_size_words
from printplan.workbook.pictures import image_html, table_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from printplan.pixels.small_picture import SmallPicture
    from printplan.record.run.carry_out import RowResult, RunResult
    from printplan.record.run.glance import Glance


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRow:
    """
    A row as it is shown.

    Attributes
    ----------
    lines : tuple of str
        Size and sheet, paper, copies and price, as far as they are known.
    worst : str
        The gravest finding, or why it failed.
    proof : SmallPicture or None
        None before the row was checked.
    """

    number: int
    name: str
    lines: tuple[str, ...]
    state: str
    worst: str
    proof: SmallPicture | None = None


def glanced(it: Glance) -> ShownRow:
    """A row before anything was opened."""
    name = it.row.name if it.plan_path is None else it.plan_path.stem
    state, lines = "not planned yet", list[str]()
    if it.problem is not None:
        state = "cannot be read"
    elif it.asked is not None:
        state = "planned" if it.record is None else "file made"
        size = asked_size_words(it.asked)
        size = f"{size} on {it.asked.spec.sheet.media_size}"
        lines = [size, it.asked.paper, _copies_words(it)]
    return ShownRow(
        number=it.row.number,
        name=name,
        lines=tuple(lines),
        state=state,
        worst=it.worst,
    )


def checked(it: RowResult) -> ShownRow:
    """A row after it was planned and checked, or made."""
    if it.prepared is None:
        return ShownRow(
            number=it.row.number,
            name=it.row.name,
            lines=(),
            state=str(it.state),
            worst=it.worst.removeprefix("failed: "),
        )
    made, plan = it.made, it.prepared.plan_path
    has_other_name = made is not None and made.file_path.stem != plan.stem
    file = f": {made.file_path.name}" if made is not None and has_other_name else ""
    return ShownRow(
        number=it.row.number,
        name=plan.stem,
        lines=tuple(cell_words(it.prepared)),
        state=f"{it.state}{file}",
        worst=it.worst.removeprefix("failed: "),
        proof=it.prepared.proof,
    )


def tiles_html(rows: Iterable[ShownRow]) -> str:
    """Proofs beside each other, each above what should be known of it."""
    return f'<div class="printplan-tiles">{"".join(map(_tile, rows))}</div>'


def rows_html(rows: Sequence[ShownRow]) -> str:
    """The same rows as a table."""
    head = ("row and print", "size, paper, copies", "state", "gravest finding")
    cells = "".join(f"<th scope='col'>{it}</th>" for it in head)
    html = [f"<table class='printplan-rows'><thead><tr>{cells}</tr></thead><tbody>"]
    for it in rows:
        told = ("<br>".join(map(escape, it.lines)), escape(it.state), _worst_html(it))
        cells = "".join(f"<td>{cell}</td>" for cell in told)
        name = f"<th scope='row'>{it.number} · {escape(it.name)}</th>"
        html.append(f"<tr>{name}{cells}</tr>")
    return "".join([*html, "</tbody></table>"])


def totals_html(result: RunResult) -> str:
    """What all the prints need."""
    rows = totals_rows(result.totals, result.forecast_s, result.took_s)
    return table_words(rows).html


def _tile(it: ShownRow) -> str:
    shown = "<span>not checked yet</span>"
    if it.state in {"failed", "cannot be read"}:
        shown = "<span>no proof</span>"
    if it.proof is not None:
        shown = image_html(it.proof.jpeg, "jpeg", it.proof.description, 999)
    lines = [f"<b>{it.number} · {escape(it.name)}</b>", *map(escape, it.lines)]
    lines += [f"<i>{escape(it.state)}</i>", _worst_html(it)]
    told = "<br>".join(filter(None, lines))
    return (
        f'<figure><div class="printplan-tile">{shown}</div>'
        f"<figcaption>{told}</figcaption></figure>"
    )


def _worst_html(it: ShownRow) -> str:
    """The finding, its weight in bold."""
    level, colon, words = it.worst.partition(": ")
    if colon and level in set(Level):
        return f"<b>{escape(level)}</b>: {escape(words)}"
    return escape(it.worst)


def _copies_words(it: Glance) -> str:
    copies = 1 if it.asked is None else it.asked.spec.delivery.copies
    told = f"{copies} {'copy' if copies == 1 else 'copies'}"
    basis = it.paper
    if basis is None or basis.paper is None:
        return told
    return f"{told}, paper {basis.paper * copies:.2f} {basis.currency}".rstrip()


def table_words_of(path: Path, count: int, folder: Path) -> str:
    """Which table is open, and where its prints go."""
    rows = "row" if count == 1 else "rows"
    return (
        f"<p><b>{escape(path.name)}</b>, {count} {rows}, numbered as in that file. "
        f"Plans, files and records go into <b>{escape(folder.name)}</b> beside it.</p>"
    )
