"""What is in the invented studio, and where does each file of it lie?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from printplan.demo.computed_files import Recipe, file_sha256, make_missing
from printplan.demo.inks import INKED_PAPERS, InkedPaper
from printplan.demo.photographs import (
    BAND_ROWS,
    CHART_HEIGHT_PX,
    CHART_WIDTH_PX,
    PHOTOGRAPHS,
    Photograph,
    draw_chart,
    master_bands,
    photograph_file,
    photograph_pixels,
    write_master,
)
from printplan.demo.profile_writer import write_profile
from printplan.errors import RecordError
from printplan.media import (
    FeedPath,
    Margins,
    MediaForm,
    Paper,
    PaperOnPrinter,
    Printer,
    Stock,
    Surface,
)

if TYPE_CHECKING:
    from collections.abc import Callable

STUDIO_CURRENCY = "EUR"
"""Of the prices in the paper book; they are invented too."""

STUDIO_NAME = "Tern Loft (an invented print studio)"

PRINTER_NAME = "Studio 24"

_RECIPE_VERSION = "1"
"""Raise it whenever the same inputs would give another file."""

_INVENTED = "Invented for the demo; no such paper is sold."


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """
    Every file of the invented studio.

    Attributes
    ----------
    satin_profile, baryta_profile, cotton_profile, gloss_profile, matte_profile : Path
        Output profiles of the papers.
    seed_heads, red_bowl, stream, chart : Path
        Masters.
    changed_by_user : tuple of Path
        Files that are not as this package made them. They were left alone.
    """

    folder: Path
    satin_profile: Path
    baryta_profile: Path
    cotton_profile: Path
    gloss_profile: Path
    matte_profile: Path
    seed_heads: Path
    red_bowl: Path
    stream: Path
    chart: Path
    changed_by_user: tuple[Path, ...] = ()

    @property
    def profiles(self) -> tuple[Path, ...]:
        """All profiles, in the order of `studio_papers`."""
        return (
            self.satin_profile,
            self.baryta_profile,
            self.cotton_profile,
            self.gloss_profile,
            self.matte_profile,
        )

    @property
    def masters(self) -> tuple[Path, ...]:
        """The four masters, photographs first."""
        return (self.seed_heads, self.red_bowl, self.stream, self.chart)


def make_scenario(
    folder: str | Path, *, progress: Callable[[str], None] | None = None
) -> Scenario:
    """
    Make the studio's profiles and masters in a folder.

    Parameters
    ----------
    folder : str or Path
        Made if missing. Files in it that are right are kept.
    progress : callable, optional
        Takes one line for each file made.

    Raises
    ------
    RecordError
        If the folder cannot be written.
    MasterError
        If the photographs are missing from this installation.

    Notes
    -----
    A file that the user changed, or put there before, stays as it is and is named
    in the result: somebody may well try an edit on a demo master.
    """
    folder = Path(folder)
    recipes = (
        *[_profile_recipe(paper) for paper in INKED_PAPERS],
        *[_photograph_recipe(photograph) for photograph in PHOTOGRAPHS],
        Recipe("masters/chart.tif", f"recipe {_RECIPE_VERSION}", _write_chart),
    )
    changed = make_missing(folder, recipes, progress=progress)
    satin, baryta, cotton, gloss, matte, seed_heads, red_bowl, stream, chart = [
        folder / recipe.path for recipe in recipes
    ]
    return Scenario(
        folder=folder,
        satin_profile=satin,
        baryta_profile=baryta,
        cotton_profile=cotton,
        gloss_profile=gloss,
        matte_profile=matte,
        seed_heads=seed_heads,
        red_bowl=red_bowl,
        stream=stream,
        chart=chart,
        changed_by_user=changed,
    )


def studio_printer() -> Printer:
    """The invented printer."""
    return Printer(
        name=PRINTER_NAME,
        black_inks=("photo black", "matte black"),
        feeds=(
            FeedPath(
                name="sheet feeder",
                margins=Margins(
                    leading_mm=4.0, trailing_mm=14.0, left_mm=4.0, right_mm=4.0
                ),
                shortest_mm=148.0,
                longest_mm=914.0,
                narrowest_mm=100.0,
                widest_mm=610.0,
                thinnest_um=80.0,
                thickest_um=350.0,
            ),
            FeedPath(
                name="front slot",
                margins=Margins(
                    leading_mm=20.0, trailing_mm=20.0, left_mm=5.0, right_mm=5.0
                ),
                shortest_mm=279.0,
                longest_mm=1219.0,
                narrowest_mm=203.0,
                widest_mm=610.0,
                thinnest_um=200.0,
                thickest_um=1500.0,
            ),
            FeedPath(
                name="roll unit",
                takes=MediaForm.ROLLS,
                margins=Margins(
                    leading_mm=3.0, trailing_mm=3.0, left_mm=3.0, right_mm=3.0
                ),
                shortest_mm=200.0,
                longest_mm=1219.0,
                narrowest_mm=203.0,
                widest_mm=610.0,
                thinnest_um=100.0,
                thickest_um=500.0,
            ),
        ),
        input_ppi=(300.0, 360.0, 600.0, 720.0),
        bit_depths=(8, 16),
        inks=("cyan", "magenta", "yellow", "grey", "photo black", "matte black"),
        longest_print_mm=1219.0,
        ink_price_per_ml=0.6,
    )


def studio_papers(folder: str | Path) -> tuple[Paper, ...]:
    """
    The invented papers as they are set up on the invented printer.

    Parameters
    ----------
    folder : str or Path
        Where `make_scenario` made the profiles, whose hashes are taken.

    Returns
    -------
    tuple of Paper
        Satin, baryta, matte cotton, gloss and smooth matte; profile paths are relative
        to the folder.

    Raises
    ------
    RecordError
        If a profile is not there.
    """
    satin, baryta, cotton, gloss, matte = INKED_PAPERS
    on_printer = partial(_on_printer, Path(folder))
    return (
        Paper(
            name=satin.name,
            surface=Surface.SATIN,
            weight_gsm=260.0,
            thickness_um=265.0,
            psf_sigma_um=28.0,
            on_printer=on_printer(satin, "Satin, heavy", "sheet feeder", "roll unit"),
            stock=(
                Stock(sheet="A4", sheets_left=41, price_each=1.2),
                Stock(sheet="A3", sheets_left=18, price_each=2.3),
                Stock(sheet="13x19 in", sheets_left=12, price_each=2.9),
                Stock(sheet="A2", sheets_left=9, price_each=4.6),
                Stock(roll_width_mm=610.0, roll_length_m=30.0, left_m=17.5),
            ),
            white_lab=(96.7, -0.2, 1.1),
            drying_h=1.0,
            note=_INVENTED,
        ),
        Paper(
            name=baryta.name,
            surface=Surface.BARYTA,
            weight_gsm=315.0,
            thickness_um=330.0,
            psf_sigma_um=30.0,
            on_printer=on_printer(
                baryta, "Baryta, heavy", "sheet feeder", "front slot"
            ),
            stock=(
                Stock(sheet="A4", sheets_left=22, price_each=2.1),
                Stock(sheet="A3", sheets_left=14, price_each=4.1),
                Stock(sheet="A2", sheets_left=6, price_each=8.2),
            ),
            white_lab=(97.0, -0.1, 0.5),
            drying_h=4.0,
            note=_INVENTED,
        ),
        Paper(
            name=cotton.name,
            surface=Surface.MATTE,
            weight_gsm=310.0,
            thickness_um=520.0,
            psf_sigma_um=50.0,
            on_printer=on_printer(cotton, "Cotton, very heavy", "front slot"),
            stock=(
                Stock(sheet="A4", sheets_left=25, price_each=2.4),
                Stock(sheet="A3", sheets_left=11, price_each=4.8),
                Stock(sheet="A2", sheets_left=4, price_each=9.6),
                Stock(sheet="17x22 in", sheets_left=5, price_each=9.9),
            ),
            white_lab=(95.9, -0.3, 1.6),
            drying_h=12.0,
            note=f"{_INVENTED} Needs the matte black ink.",
        ),
        Paper(
            name=gloss.name,
            surface=Surface.GLOSS,
            weight_gsm=255.0,
            thickness_um=250.0,
            psf_sigma_um=25.0,
            on_printer=on_printer(gloss, "Gloss, heavy", "sheet feeder"),
            stock=(
                Stock(sheet="A4", sheets_left=30, price_each=1.0),
                Stock(sheet="A3", sheets_left=16, price_each=2.0),
                Stock(sheet="A2", sheets_left=8, price_each=4.1),
            ),
            white_lab=(96.3, -0.2, 0.9),
            drying_h=2.0,
            note=f"{_INVENTED} Its profile is of ICC version 4.",
        ),
        Paper(
            name=matte.name,
            surface=Surface.MATTE,
            weight_gsm=200.0,
            thickness_um=260.0,
            psf_sigma_um=45.0,
            on_printer=on_printer(matte, "Matte, smooth", "sheet feeder", "front slot"),
            stock=(
                Stock(sheet="A4", sheets_left=36, price_each=0.7),
                Stock(sheet="A3", sheets_left=20, price_each=1.4),
                Stock(sheet="A2", sheets_left=10, price_each=2.8),
            ),
            white_lab=(96.3, -0.1, 0.7),
            drying_h=6.0,
            note=f"{_INVENTED} Needs the matte black ink. Compensate its black.",
        ),
    )


def _on_printer(
    folder: Path, paper: InkedPaper, media_type: str, *feeds: str
) -> tuple[PaperOnPrinter]:
    profile = _profile_path(paper)
    try:
        profile_sha256 = file_sha256(folder / profile)
    except OSError as error:
        raise RecordError(
            f"The demo profile {folder / profile} cannot be read ({error.strerror}).",
            remedy=f"Make the demo in {folder} first.",
        ) from error
    setup = PaperOnPrinter(
        printer=PRINTER_NAME,
        profile=profile,
        profile_sha256=profile_sha256,
        black_ink=paper.black_ink,
        media_type=media_type,
        feeds=feeds,
    )
    return (setup,)


def _profile_path(paper: InkedPaper) -> str:
    return f"profiles/{paper.name.lower().replace(' ', '-')}.icc"


def _profile_recipe(paper: InkedPaper) -> Recipe:
    return Recipe(
        _profile_path(paper),
        f"recipe {_RECIPE_VERSION}, {paper!r}",
        partial(_write_profile, paper),
    )


def _photograph_recipe(photograph: Photograph) -> Recipe:
    source_sha256 = sha256(photograph_file(photograph.name)).hexdigest()
    return Recipe(
        f"masters/{photograph.name}.tif",
        f"recipe {_RECIPE_VERSION}, {source_sha256}, {photograph!r}",
        partial(_write_photograph, photograph),
    )


def _write_profile(paper: InkedPaper, path: Path) -> None:
    path.write_bytes(write_profile(paper, PRINTER_NAME))


def _write_photograph(photograph: Photograph, path: Path) -> None:
    pixels = photograph_pixels(photograph.name)
    write_master(
        path,
        master_bands(pixels, photograph.tone_power),
        width_px=pixels.shape[1],
        height_px=pixels.shape[0],
        band_rows=BAND_ROWS,
        creator=photograph.creator,
        rights=photograph.rights,
    )


def _write_chart(path: Path) -> None:
    chart = draw_chart()
    write_master(
        path,
        (chart[top : top + BAND_ROWS] for top in range(0, len(chart), BAND_ROWS)),
        width_px=CHART_WIDTH_PX,
        height_px=CHART_HEIGHT_PX,
        band_rows=BAND_ROWS,
        creator=STUDIO_NAME,
        rights="No rights reserved. A computed chart.",
    )
