"""
How long do views of colour take on the demo, once their tables are built?

    python tests/benchmarks/colour_views.py FOLDER

The folder is one that `printplan demo` made. Prints medians of 15 in milliseconds, at
1200 pixels; the first build of each table stands beside them.
"""

import dataclasses
import statistics
import sys
import time

from printplan.demo.studio import make_studio
from printplan.pixels.maps import reach_map, tone_map
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.plan import resolve
from printplan.record.plan_file import open_plan
from printplan.spec import BlackPointCompensation, ColourSpec, Intent
from printplan.workbook.drawings.paint import paint_reach

LONGEST_PX = 1200


def milliseconds(action):
    start = time.perf_counter()
    action()
    return (time.perf_counter() - start) * 1e3


def varied(sheet, colour):
    spec = dataclasses.replace(sheet.plan.spec, colour=colour)
    plan = sheet.plan
    return build_sheet(
        sheet.master, resolve(plan.facts, plan.paper, plan.printer, spec), reuse=sheet
    )


def main():
    sheet = open_plan(make_studio(sys.argv[1]).plan_paths[1])
    overview = sheet.overview(LONGEST_PX)
    picture = sheet.proof(overview.pixels, Appearance.PAPER_ALONE)
    box = overview.picture
    inside = picture[box.top : box.bottom, box.left : box.right]
    intents = iter(list(Intent) * 10)

    def new_intent():
        colour = ColourSpec(
            intent=next(intents),
            black_point_compensation=BlackPointCompensation.OFF,
        )
        other = varied(sheet, colour)
        other.proof(other.overview(LONGEST_PX).pixels, Appearance.PAPER_ALONE)

    actions = {
        "overview with reach map": lambda: paint_reach(
            inside, reach_map(sheet, sheet.overview(LONGEST_PX)).values
        ),
        "overview with another intent": new_intent,
        "other appearance, no new table": lambda: sheet.proof(
            overview.pixels, Appearance.PAPER_IN_THE_ROOM
        ),
        "tone map": lambda: tone_map(sheet, overview),
    }
    with sheet.master:
        for name, action in actions.items():
            first = milliseconds(action)
            later = statistics.median(milliseconds(action) for _ in range(15))
            print(f"{name:32} first {first:6.0f} ms   then {later:5.0f} ms")


if __name__ == "__main__":
    main()
