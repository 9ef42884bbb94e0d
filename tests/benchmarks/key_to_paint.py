"""
How long from a key on a slider to the pixels that it changes, in a real browser?

Makes a 50 megapixel 16-bit master and an A2 print of it at 360 ppi, opens one panel in
JupyterLab and Chromium, waits until the panel has measured what it measures, and
presses an arrow key on its slider, each time after the picture of the one before has
been painted and a pause. Prints medians and nine in ten, in milliseconds, beside the
kernel's own share (plan, pixels and their encoding) and the processor time of that,
which a busy machine does not change.

The browser is steered by its DevTools protocol itself: a test harness listens to every
message of the page's sockets, which cost some 14 ms a picture on two cores.

    python -m pip install ".[benchmarks]"
    python tests/benchmarks/key_to_paint.py [--presses 25] [--rounds 3]
"""

import argparse
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "browser")]

import nbformat  # noqa: E402 - after the paths
from devtools import open_tab  # noqa: E402 - beside this file
from engine import make_master  # noqa: E402 - likewise
from lab_server import jupyterlab  # noqa: E402 - beside the browser tests
from notebook_page import EXECUTE, READY  # noqa: E402 - likewise

RUN_ALL = "async () => { await jupyterapp.commands.execute('notebook:run-all-cells') }"
WARM_UP = 5
PAUSE_S = 0.1

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
bench = Bench.of(open_master("master.tif"), paper, printer, spec)
SPEC = spec"""

SHARPEN = """\
from printplan.workbook.panels.sharpen import SharpenPanel
panel = SharpenPanel(bench)
panel.ui"""
PROOF = """\
from printplan.workbook.panels.proof import ProofPanel
bench.change(colour=ColourSpec(lighten_l=-10))  # its slider has 40 steps from here
SPEC = bench.spec
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

# The handle is given its key, and each picture the time since the key's own, at the
# first frame that was painted with it.
WATCH = """([picture, words]) => {
  const rows = [...document.querySelectorAll(".widget-hslider")];
  const row = rows.find((it) => it.offsetParent && it.textContent.includes(words));
  row.querySelector(".noUi-handle").focus();
  let pressed = 0;
  window.paints = [];
  document.addEventListener("keydown", (event) => { pressed = event.timeStamp; }, true);
  const image = document.querySelector(picture);
  image.addEventListener("load", () => requestAnimationFrame(() => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => {
      window.paints.push(performance.now() - pressed);
      window.painted?.();
    };
    port2.postMessage(0);
  }));
}"""
PAINTED = """(count) => new Promise((resolve) => {
  window.painted = () => { if (window.paints.length >= count) resolve(); };
  window.painted();
})"""
SHOWN = "(picture) => document.querySelector(picture)?.naturalWidth > 0"
# Back to where the slider began, for another round.
RESET = "bench.change(sharpen=SPEC.sharpen, colour=SPEC.colour)"
# Runs in the kernel: what a step costs there, with no browser in it.
KERNEL_SHARE = """\
import statistics, time
taken, worked = [], []
for n in range({presses}):
    start = time.perf_counter(), time.process_time()
    {change}
    panel._newest.settle()
    taken.append((time.perf_counter() - start[0]) * 1e3)
    worked.append((time.process_time() - start[1]) * 1e3)
print(statistics.median(taken), statistics.median(worked))"""


def milliseconds(tab, presses, start):
    """Key press to painted picture, one number for each press."""
    for count in range(1, WARM_UP + presses + 1):
        tab.press("ArrowRight", 39)
        tab.call(PAINTED, start + count)
        # At another time of the screen's own beat for each press.
        time.sleep(PAUSE_S * (1 + count * 0.618 % 1))
    return tab.call("() => window.paints")[start + WARM_UP :]


def measure(lab, name, panel, change, options):
    """Milliseconds of each press, and the kernel's own medians."""
    code, words, picture = panel
    cells = [nbformat.v4.new_code_cell(cell) for cell in (BENCH, code)]
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
    notebook = nbformat.v4.new_notebook(cells=cells, metadata=kernel)
    nbformat.write(notebook, lab.folder / name)
    with open_tab(lab.address(f"doc/tree/{name}")) as tab:
        tab.wait_for(READY)
        tab.call(RUN_ALL)
        tab.wait_for(SHOWN, picture)
        execute(tab, "panel.settle()")
        taken = []
        for _ in range(options.rounds):
            tab.call(WATCH, [picture, words])
            taken += milliseconds(tab, options.presses, 0)
            execute(tab, f"{RESET}; panel.settle()")
        counted = KERNEL_SHARE.format(presses=options.presses, change=change)
        said = execute(tab, counted)
    return taken, [float(it) for it in said.split()]


def execute(tab, code):
    """Do something in the notebook's kernel; what that prints."""
    answer = tab.call(EXECUTE, code)
    if answer["status"] != "ok":
        raise RuntimeError(answer["said"])
    return answer["said"].strip()


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--presses", type=int, default=25)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home, desk = Path(folder, "home"), Path(folder, "desk")
        home.mkdir()
        desk.mkdir()
        os.environ["PRINTPLAN_CACHE"] = str(home / "cache")
        make_master(desk / "master.tif")
        with jupyterlab(home, desk) as lab:
            print(f"{'ms':24}   p50   p90  kernel   CPU  goal")
            for number, (words, panel, change, goal) in enumerate(CASES):
                name = f"case-{number}.ipynb"
                taken, (kernel, cpu) = measure(lab, name, panel, change, options)
                half, most = statistics.median(taken), statistics.quantiles(taken, n=10)
                print(
                    f"{words:24} {half:5.0f} {most[-1]:5.0f} {kernel:7.0f} {cpu:5.0f} "
                    f"{goal:5}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
