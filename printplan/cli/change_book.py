"""`printplan change`: how are printers and papers of the book renamed and retired?"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import click

from printplan.cli.telling import BOOK, tell
from printplan.errors import SpecError

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.media import Paper, Printer

    _Named = TypeVar("_Named", Printer, Paper)

_NAME = click.option("--name", help="A new name; plans of before still find it.")
_USE = click.option(
    "--in-use/--out-of-use", default=None, help="Whether new plans are offered it."
)


@click.group()
def change() -> None:
    """Rename a printer or a paper of the book, or take it out of use."""


@change.command(name="printer")
@click.argument("printer")
@BOOK
@_NAME
@_USE
def change_one_printer(
    printer: str, book: Path, *, name: str | None, in_use: bool | None
) -> None:
    """Rename a printer, or take it out of use."""
    from printplan.record.book_changes import change_printer  # noqa: PLC0415

    _require_change(name, in_use)
    now = change_printer(book, printer, lambda old: _changed(old, name, in_use))
    _tell(now, book)


@change.command(name="paper")
@click.argument("paper")
@BOOK
@_NAME
@_USE
def change_one_paper(
    paper: str, book: Path, *, name: str | None, in_use: bool | None
) -> None:
    """Rename a paper, or take it out of use."""
    from printplan.record.book_changes import change_paper  # noqa: PLC0415

    _require_change(name, in_use)
    now = change_paper(book, paper, lambda old: _changed(old, name, in_use))
    _tell(now, book)


def _require_change(name: str | None, in_use: bool | None) -> None:  # noqa: FBT001 - both are what was asked
    if name is None and in_use is None:
        raise SpecError(
            "Nothing is to be changed.",
            remedy="Add --name, --in-use or --out-of-use.",
        )


def _changed(old: _Named, name: str | None, in_use: bool | None) -> _Named:  # noqa: FBT001 - both are what was asked
    from dataclasses import replace  # noqa: PLC0415

    return replace(
        old,
        name=old.name if name is None else name.strip(),
        in_use=old.in_use if in_use is None else in_use,
    )


def _tell(now: Printer | Paper, book: Path) -> None:
    use = "in use" if now.in_use else "out of use"
    tell(f'"{now.name}" is {use} in {book}.')
    if now.former_names:
        tell(f"It is still found as {', '.join(now.former_names)}.")
