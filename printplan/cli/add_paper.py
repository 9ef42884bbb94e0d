"""`printplan add paper`: how does a paper come into the book by its profile?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from printplan.cli.telling import BOOK, PATH, tell

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from printplan.record.paper_from_profile import AddedPaper, JudgedProfile
    from printplan.record.paper_proposal import PaperProposal


@click.command(name="paper")
@click.argument("profile", type=PATH)
@BOOK
@click.option("--printer", help="Its name in the book, if there are several.")
@click.option("--name", help="What the paper is called; another setup if it is known.")
@click.option("--surface", help="matte, satin, baryta, gloss or canvas.")
@click.option("--black-ink", help="As the printer's black inks are called.")
@click.option("--weight-gsm", type=float, help="On the packet.")
@click.option("--thickness-um", type=float, help="On the maker's sheet, 1 mm = 1000.")
@click.option("--drying-h", type=float, help="Hours before stacking or framing.")
@click.option("--feed", "feeds", multiple=True, help="A feed path that takes it.")
@click.option("--sheet", "sheets", multiple=True, help="A size kept: A4, 24 in roll.")
@click.option("--media-type", help="What the driver calls such a paper.")
@click.option("--quality", help="What the driver calls the quality to print with.")
@click.option("--setup", help="Tells several setups on one printer apart.")
def add_paper(  # noqa: PLR0913 - each is an option
    profile: Path,
    book: Path,
    *,
    printer: str | None,
    name: str | None,
    surface: str | None,
    black_ink: str | None,
    weight_gsm: float | None,
    thickness_um: float | None,
    drying_h: float | None,
    feeds: tuple[str, ...],
    sheets: tuple[str, ...],
    media_type: str | None,
    quality: str | None,
    setup: str | None,
) -> None:
    """Write a paper into the book from its ICC profile, and say what it is worth."""
    from printplan.media import Surface  # noqa: PLC0415
    from printplan.record.paper_book import read_paper_book  # noqa: PLC0415
    from printplan.record.paper_from_profile import (  # noqa: PLC0415
        add_from_profile,
        judge_profile,
        printer_for_paper,
        propose_from,
    )
    from printplan.record.paper_proposal import PaperWish  # noqa: PLC0415
    from printplan.spec import member  # noqa: PLC0415

    wish = PaperWish(
        name=name,
        surface=None if surface is None else member(Surface, surface, "Surface"),
        black_ink=black_ink,
        weight_gsm=weight_gsm,
        thickness_um=thickness_um,
        drying_h=drying_h,
        feeds=feeds or None,
        sheets=sheets or None,
        media_type=media_type,
        quality=quality,
        setup=setup,
    )
    papers = read_paper_book(book)
    judged = judge_profile(profile, printer_for_paper(papers, printer))
    proposal = propose_from(judged, papers, wish)
    for told in (*_profile_told(judged), *_paper_told(proposal)):
        tell(told)
    for told in _written(add_from_profile(book, judged, proposal), book):
        tell(told)


def _profile_told(judged: JudgedProfile) -> Iterator[str]:
    from printplan.checks.output_profile import profile_lines  # noqa: PLC0415

    for line in profile_lines(judged.quality):
        yield f"{line.what}: {line.value}. {line.means}"
        if line.finding is not None:
            yield f"  {line.finding}"


def _paper_told(proposal: PaperProposal) -> Iterator[str]:
    for row in proposal.rows():
        yield f"{row.what}: {row.value}; {row.source}."


def _written(added: AddedPaper, book: Path) -> Iterator[str]:
    if added.was_copied:
        yield f"The profile was copied to {added.profile}."
    setup = f' "{added.setup.setup}"' if added.setup.setup else ""
    if added.is_new_paper:
        what = f'The paper "{added.paper.name}"'
    else:
        what = f'Another setup{setup} of "{added.paper.name}"'
    yield f"{what} for {added.setup.printer} is in {book}."
