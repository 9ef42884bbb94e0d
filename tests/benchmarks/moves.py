"""
How long does the kernel compute for each move of a control, beside its goal?

Makes a 16-bit master of 100 megapixels of a photograph, to be printed at 216, and
prints medians in milliseconds: a window of 900 × 600 print pixels, moved and
under another gain, radius and lightening; an overview of 1200 pixels under
another intent and on another paper; reach map and tone map of it. Without the browser.
Sharpening at the engine's benchmark: gain 1, radius 1.5 pixels.

    python tests/benchmarks/moves.py [--rounds 25]
"""

import argparse
import dataclasses
import itertools
import statistics
import tempfile
import time
from pathlib import Path

from engine import GAIN, RADIUS_PX, SIZES, make_master

from printplan.demo.studio import make_studio
from printplan.loops.machine_code import compile_loops
from printplan.pixels.maps import reach_map, tone_map
from printplan.pixels.master import open_master
from printplan.pixels.sheet import Appearance, build_sheet, varied
from printplan.plan import resolve
from printplan.record.paper_book import read_paper_book
from printplan.sizing.boxes import Box
from printplan.spec import (
    Intent,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

WINDOW = (900, 600)
LONGEST_PX = 1200
LOOK = Appearance.PAPER_ALONE


def benched(master, book):
    (width, height), ppi = SIZES["216"][1:]
    mm = 25.4 / ppi
    printer = book.printer("Studio 24")
    papers = [book.paper(name) for name in ("Alder Satin 260", "Heron Baryta 315")]
    spec = PrintSpec(
        size=SizeSpec(
            rule=SizeRule.FILL, width_mm=width * mm, height_mm=height * mm, ppi=ppi
        ),
        sharpen=SharpenSpec(gain=GAIN, radius_mm=RADIUS_PX * mm),
        sheet=SheetSpec(
            media_size="custom",
            width_mm=(width + 800) * mm,
            height_mm=(height + 800) * mm,
            feed="sheet feeder",
        ),
    )
    return [
        build_sheet(master, resolve(master.facts, paper, printer, spec))
        for paper in papers
    ]


def moves(sheets):
    """Name, goal in milliseconds, and what is computed for one move."""
    sheet, other_paper = sheets
    spec, picture = sheet.plan.spec, sheet.plan.picture_in_file
    numbers = itertools.count(1)

    def place(number):
        left = picture.left + 400 + 37 * number % (picture.width - 2000)
        return Box(left, picture.top + 3000 + 29 * number % 5000, *WINDOW)

    def window_moved():
        sheet.proof_window(place(next(numbers)), LOOK)

    def sharpened(**changed):
        sharpen = dataclasses.replace(spec.sharpen, **changed)
        changed_sheet = varied(sheet, dataclasses.replace(spec, sharpen=sharpen))
        changed_sheet.proof_window(place(0), LOOK)

    def coloured(**changed):
        colour = dataclasses.replace(spec.colour, **changed)
        return varied(sheet, dataclasses.replace(spec, colour=colour))

    def seen(other):
        other.proof(other.overview(LONGEST_PX).pixels, LOOK)

    intents = itertools.cycle(list(Intent))
    papers = itertools.cycle((other_paper, sheet))
    overview = sheet.overview(LONGEST_PX)
    mm = spec.sharpen.radius_mm
    return (
        ("window moved", 25, window_moved),
        ("gain", 8, lambda: sharpened(gain=1 + 0.01 * next(numbers))),
        ("radius", 12, lambda: sharpened(radius_mm=mm * (1 + 0.001 * next(numbers)))),
        (
            "lighten",
            15,
            lambda: coloured(lighten_l=0.01 * next(numbers)).proof_window(
                place(0), LOOK
            ),
        ),
        (
            "intent, overview",
            50,
            lambda: seen(coloured(intent=next(intents))),
        ),
        ("paper, overview", 50, lambda: seen(next(papers))),
        (
            "reach map, overview",
            60,
            lambda: reach_map(sheet, sheet.overview(LONGEST_PX)),
        ),
        ("lost separation, overview", 60, lambda: tone_map(sheet, overview)),
    )


def milliseconds(action):
    start = time.perf_counter()
    action()
    return (time.perf_counter() - start) * 1e3


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--rounds", type=int, default=25)
    asked = parser.parse_args()
    compile_loops()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        studio = make_studio(folder / "studio")
        make_master(folder / "master.tif", SIZES["216"][0], "photograph")
        book = read_paper_book(studio.plan_path.parent / "paper-book.toml")
        with open_master(folder / "master.tif") as master:
            for what, goal, action in moves(benched(master, book)):
                first = milliseconds(action)
                later = [milliseconds(action) for _ in range(asked.rounds)]
                print(
                    f"{what:26} {statistics.median(later):6.1f} ms, goal {goal}; "
                    f"the first {first:6.0f} ms"
                )


if __name__ == "__main__":
    main()
