"""What do the commands share: their options, and what they tell of a file?"""

from __future__ import annotations

import sys
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from printplan.shown_text import visible

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.pixels.picture_file import Progress
    from printplan.pixels.render import Rendered


class _TidiedPath(click.Path):
    """A path; what ended processes left in its folder goes before work begins there."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        """Take a path from the command line, and tidy its folder."""
        from printplan.own_folders import clear_passing  # noqa: PLC0415
        from printplan.record.leftovers import tidy  # noqa: PLC0415

        path: Path = super().convert(value, param, ctx)  # type: ignore[assignment]
        with suppress(ValueError, OSError):  # no name of a file: the command says so
            tidy([path if path.is_dir() else path.parent])
            clear_passing()
        return path


def _spelt(_ctx: click.Context, _param: click.Parameter, name: str) -> str:
    """A colour space as plans name it, or whatever else was said."""
    from printplan.colour.spaces import named_space  # noqa: PLC0415 - loads numpy
    from printplan.errors import SpecError  # noqa: PLC0415

    try:
        return named_space(name)
    except SpecError:
        return name


PATH = _TidiedPath(path_type=Path)
"""What a command takes as a path."""

BOOK = click.option(
    "--book",
    type=PATH,
    default=Path("paper-book.toml"),
    show_default=True,
    help="The paper book.",
)
"""The option of all commands that change a paper book."""

ASSUME_PROFILE = click.option(
    "--assume-profile",
    default="",
    callback=_spelt,
    help="Of a master that carries none: sRGB, opRGB, ROMM RGB, or a profile's file.",
)
"""The option of all commands that plan a master."""


def tell(*lines: str, err: bool = False) -> None:
    """
    Write lines to the terminal, the one way in which words get there.

    Parameters
    ----------
    *lines : str
        Each stays one line, and moves neither cursor nor colour, whatever names and
        messages stand in it.
    err : bool, optional
        To standard error.
    """
    for line in lines:
        click.echo(visible(line), err=err)


@contextmanager
def progress_shown(title: str = "", unit: str = "rows") -> Iterator[Progress]:
    """
    Show a bar in a terminal, from the first row, or other thing, on.

    Elsewhere only the title is said, where there is one: a bar would fill a log.
    """
    with ExitStack() as stack:
        bars: list[Progress] = []

        def show(done_rows: int, all_rows: int) -> None:
            if not bars and sys.stderr.isatty():
                from printplan.pixels.render import progress_bar  # noqa: PLC0415

                bars.append(stack.enter_context(progress_bar(title, unit)))
            elif not bars:
                bars.append(lambda _done, _all: None)
                if title:
                    tell(f"{title} …", err=True)
            for bar in bars:
                bar(done_rows, all_rows)

        yield show


def compile_loops_shown() -> None:
    """Compile the loops over pixels, once on a machine, with a bar in a terminal."""
    from printplan.loops.machine_code import compile_loops  # noqa: PLC0415

    with progress_shown("Making the pixel loops for this machine", "loops") as progress:
        compile_loops(progress)


def tell_rendered(made: Rendered) -> None:
    """Say which file was made."""
    tell(f"{made.path}: {made.width_px} × {made.height_px} px at {made.ppi:g} ppi.")
    tell(f"SHA-256 {made.sha256}")


def table(rows: list[tuple[str, ...]]) -> list[str]:
    """
    Rows as lines of text, in columns.

    Parameters
    ----------
    rows : list of tuple of str
        The first one is the head.
    """
    shown = [tuple(map(visible, row)) for row in rows]
    widths = [max(map(len, column)) for column in zip(*shown, strict=True)]
    return [
        "  ".join(
            f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)
        ).rstrip()
        for row in shown
    ]
