"""
How long from a key on a slider to the pixels that it changes, in a real browser?

Makes a 50 megapixel 16-bit master and an A2 print of it at 360 ppi, opens one panel in
JupyterLab and Chromium, and presses an arrow key on its slider, one at a time, each
after the picture of the one before has been painted. Prints medians and nine in ten,
in milliseconds, beside the kernel's own share (plan, pixels and their encoding) and the
processor time of that, which a busy machine does not change.

    python -m pip install ".[benchmarks]"
    python tests/benchmarks/key_to_paint.py [--presses 25]
"""

import argparse
import os
import statistics
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "browser")]

from chromium import CHROMIUM_FLAGS, chromium_path  # noqa: E402 - beside the tests
from engine import make_master  # noqa: E402 - likewise
from lab_server import jupyterlab  # noqa: E402 - likewise
from notebook_page import NotebookPage, slider  # noqa: E402 - likewise
from playwright.sync_api import sync_playwright  # noqa: E402 - after the paths

WINDOW = {"width": 1600, "height": 1000}
WARM_UP = 5

BENCH = """\
from printplan.demo.studio import make_studio
from printplan.pixels.master import open_master
from printplan.spec import *
from printplan.workbook.bench import Bench
book = make_studio("studio").book
paper, printer = book.paper("Fen Cotton 310"), book.printers[0]
spec = PrintSpec(
    size=SizeSpec(rule=SizeRule.WIDTH, width_mm=340, ppi=360),
    sharpen=SharpenSpec(gain=0.8, radius_mm=0.127),
    sheet=SheetSpec(media_size="A2", feed=paper.on(printer).feeds[0]),
)
bench = Bench.of(open_master("master.tif"), paper, printer, spec)"""

SHARPEN = """\
from printplan.workbook.panels.sharpen import SharpenPanel
panel = SharpenPanel(bench)
panel.ui"""
PROOF = """\
from printplan.workbook.panels.proof import ProofPanel
bench.change(colour=ColourSpec(lighten_l=-10))  # its slider has 40 steps from here
panel = ProofPanel(bench)
panel.ui"""

# Panel, slider, picture, what the kernel does for one step of it, and our goal in ms.
CASES = (
    (
        "exact window, gain",
        (SHARPEN, "gain", ".printplan-exact img"),
        "bench.change(sharpen=SharpenSpec(gain=0.8 + n * 0.05, radius_mm=0.127))",
        60,
    ),
    (
        "exact window, radius",
        (SHARPEN, "radius", ".printplan-exact img"),
        "bench.change(sharpen=SharpenSpec(gain=0.8, radius_mm=0.127 + n * 0.001))",
        60,
    ),
    (
        "overview, lighten",
        (PROOF, "lighten", ".printplan-stage img"),
        "bench.change(colour=ColourSpec(lighten_l=n * 0.25))",
        120,
    ),
)

# The key's own time to the first frame that was painted with the new picture.
WATCH = """(image) => {
  let pressed = 0;
  window.paints = [];
  document.addEventListener("keydown", (event) => { pressed = event.timeStamp; }, true);
  image.addEventListener("load", () => requestAnimationFrame(() => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => window.paints.push(performance.now() - pressed);
    port2.postMessage(0);
  }));
}"""
PAINTED = "(count) => window.paints.length >= count"
# Runs in the kernel: what a step costs there, with no browser in it.
KERNEL_SHARE = """\
import statistics, time
taken, worked = [], []
for n in range({presses}):
    start = time.perf_counter(), time.process_time()
    {change}
    panel.settle()
    taken.append((time.perf_counter() - start[0]) * 1e3)
    worked.append((time.process_time() - start[1]) * 1e3)
print(statistics.median(taken), statistics.median(worked))"""


def milliseconds(page, within, label, picture, presses):
    """Key press to painted picture, one number for each press."""
    within.locator(picture).first.evaluate(WATCH)
    slider(within, label).focus()
    for count in range(1, WARM_UP + presses + 1):
        page.keyboard.press("ArrowRight")
        page.wait_for_function(PAINTED, arg=count)
    return page.evaluate("window.paints")[WARM_UP:]


def measure(browser, lab, name, panel, change, presses):
    code, label, picture = panel
    notebook = NotebookPage(browser.new_page(viewport=WINDOW), lab)
    notebook.write(name, [BENCH, code]).run_all()
    taken = milliseconds(notebook.page, notebook.output(1), label, picture, presses)
    said = notebook.execute(KERNEL_SHARE.format(presses=presses, change=change))
    notebook.page.close()
    return taken, [float(it) for it in said.split()]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--presses", type=int, default=25)
    presses = parser.parse_args().presses
    with tempfile.TemporaryDirectory() as folder:
        home, desk = Path(folder, "home"), Path(folder, "desk")
        home.mkdir()
        desk.mkdir()
        os.environ["PRINTPLAN_CACHE"] = str(home / "cache")
        make_master(desk / "master.tif")
        with jupyterlab(home, desk) as lab, sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=chromium_path(playwright.chromium), args=CHROMIUM_FLAGS
            )
            print(f"{'ms':24}   p50   p90  kernel   CPU  goal")
            for number, (words, panel, change, goal) in enumerate(CASES):
                name = f"case-{number}.ipynb"
                taken, (kernel, cpu) = measure(
                    browser, lab, name, panel, change, presses
                )
                half, most = statistics.median(taken), statistics.quantiles(taken, n=10)
                print(
                    f"{words:24} {half:5.0f} {most[-1]:5.0f} {kernel:7.0f} {cpu:5.0f} "
                    f"{goal:5}"
                )
            browser.close()


if __name__ == "__main__":
    main()
