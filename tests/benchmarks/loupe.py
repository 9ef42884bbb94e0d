"""
How long from a key press to painted pixels in the loupe?

    python tests/benchmarks/loupe.py FOLDER

FOLDER is new or empty; a JupyterLab runs in it. Wants Playwright and Chromium. Prints
medians of 25 in milliseconds, at a view of about 900 × 600 device pixels: compute in
the kernel, message, and painting. The kernel's own part stands beside it.
"""

import statistics
import sys
import time
from pathlib import Path

import nbformat

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "browser")]

from chromium import CHROMIUM_FLAGS, chromium_path  # noqa: E402 - after the paths
from lab_server import jupyterlab  # noqa: E402 - after the paths
from loupe_page import LoupePage, screen  # noqa: E402 - after the paths
from playwright.sync_api import sync_playwright  # noqa: E402 - after the paths

from printplan.demo.studio import make_studio  # noqa: E402 - after the paths
from printplan.record.plan_file import open_plan  # noqa: E402 - after the paths
from printplan.workbook.loupe.cutter import Cutter  # noqa: E402 - after the paths
from printplan.workbook.loupe.loupe import cut_frame, frame_reply  # noqa: E402 - after the paths
from printplan.workbook.loupe.overviews import OverviewStore  # noqa: E402 - after the paths
from printplan.workbook.loupe.sides import SIDES  # noqa: E402 - likewise

COUNT = 25
CELLS = (
    "from printplan.demo.studio import make_studio",
    "from printplan.workbook.bench import Bench",
    "from printplan.workbook.loupe.loupe import Loupe",
    "bench = Bench.open(make_studio('studio').plan_path)",
    "Loupe(bench)",
)
# Time runs in the page: from the key to the frame in which the answer is painted.
KEY_TO_PIXELS = """async ([key, count]) => {
  const stage = document.querySelector(".printplan-loupe-stage");
  const canvas = stage.querySelector("canvas");
  const taken = [];
  stage.focus();
  for (let i = 0; i < count; i++) {
    const before = canvas.dataset.id;
    const start = performance.now();
    const way = i % 2 ? "ArrowLeft" : "ArrowRight";
    stage.dispatchEvent(
      new KeyboardEvent("keydown", { key: key || way, bubbles: true }));
    while (canvas.dataset.id === before || stage.ariaBusy === "true")
      await new Promise(requestAnimationFrame);
    taken.push(performance.now() - start);
    await new Promise((done) => setTimeout(done, 60));
  }
  return [taken, canvas.width, canvas.height];
}"""


def in_browser(folder):
    home, work = folder / "home", folder / "work"
    home.mkdir(parents=True)
    work.mkdir()
    notebook = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell(code) for code in CELLS],
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    )
    nbformat.write(notebook, work / "loupe.ipynb")
    with (
        jupyterlab(home, work) as server,
        sync_playwright() as playwright,
        playwright.chromium.launch(
            executable_path=chromium_path(playwright.chromium), args=CHROMIUM_FLAGS
        ) as any_browser,
        screen(any_browser, size=(1340, 1100)) as browser,
    ):
        loupe = LoupePage(browser, server, "loupe.ipynb")
        loupe.page.locator(".printplan-loupe-stop").first.wait_for()
        for name, key in (("two sides", "d"), ("one side", "d")):
            taken, width, height = loupe.page.evaluate(KEY_TO_PIXELS, ["", COUNT])
            print(
                f"{name}, {width} × {height}: key to pixels "
                f"{statistics.median(taken):.0f} ms"
            )
            loupe.press(key)


def in_kernel(folder):
    sheet = open_plan(make_studio(folder / "work" / "studio").plan_path)
    cutter = Cutter(sheet, SIDES, OverviewStore())
    for sides in (["before", "after"], ["after"]):
        taken = []
        for number in range(COUNT + 1):
            message = {
                "view": "one",
                "id": number,
                "centre": [1800 + 75 * (number % 2), 1500],
                "zoom": "print-pixels",
                "scale": 1,
                "width": 900,
                "height": 600,
                "sides": sides,
                "layer": "none",
            }
            start = time.perf_counter()
            frame_reply(*cut_frame(cutter, message))
            taken.append((time.perf_counter() - start) * 1e3)
        print(f"{' and '.join(sides)}: kernel {statistics.median(taken[1:]):.0f} ms")


def main():
    folder = Path(sys.argv[1]).absolute()
    in_browser(folder)
    in_kernel(folder)


if __name__ == "__main__":
    main()
