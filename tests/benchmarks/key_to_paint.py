"""
How long from a key on a control to the pixels that it changes, in a real browser?

Makes a 50 megapixel 16-bit master and an A2 print of it at 360 ppi, opens one panel in
JupyterLab and Chromium, waits until the panel has measured what it measures, and
presses arrow keys on its control, each time after the picture of the one before has
been painted and a pause. Prints medians and nine in ten, in milliseconds, and where
they go: until the kernel hears of the key, has computed and has encoded, and until the
page has decoded and painted it. The processor time that the kernel takes for one,
without a browser, stands beside them: a busy machine does not change it.

The browser is steered by its DevTools protocol itself: a test harness listens to every
message of the page's sockets, which cost some 14 ms a picture on two cores.

    python -m pip install ".[benchmarks]"
    python tests/benchmarks/key_to_paint.py [--presses 25] [--draw FILE.svg]
"""

import argparse
import json
import os
import statistics
import sys
import tempfile
import time
from itertools import cycle, islice
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "browser")]

import nbformat  # noqa: E402 - after the paths
from devtools import open_tab  # noqa: E402 - beside this file
from engine import SIZES, make_master  # noqa: E402 - likewise
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

DOWN, UP = "ArrowDown", "ArrowUp"
DOWN_AND_UP = [DOWN, DOWN, UP, UP, UP, DOWN]
"""From the second of four intents through all of them, and back."""

# Panel, control, picture and keys, what the kernel does for one step of it, and our
# goal in ms.
CASES = (
    (
        "exact window, gain",
        (SHARPEN, "gain", ".printplan-exact img", ["ArrowRight"]),
        "bench.change(sharpen=SharpenSpec(gain=0.8 + n * 0.05, radius_mm=0.127))",
        50,
    ),
    (
        "exact window, radius",
        (SHARPEN, "radius", ".printplan-exact img", ["ArrowRight"]),
        "bench.change(sharpen=SharpenSpec(gain=0.8, radius_mm=0.127 + n * 0.001))",
        50,
    ),
    (
        "overview, lighten",
        (PROOF, "lighten", ".printplan-stage img", ["ArrowRight"]),
        "bench.change(colour=ColourSpec(lighten_l=n * 0.25))",
        100,
    ),
    (
        "overview, intent",
        (PROOF, "intent", ".printplan-stage img", DOWN_AND_UP),
        "bench.change(colour=ColourSpec(intent=list(Intent)[n % 4]))",
        100,
    ),
)

# Runs in the kernel: notes when it hears of a key, and begins and ends to encode.
NOTE = """\
import json, time
from ipywidgets import Widget
from printplan.workbook.panels import proof, sharpen
NOTES = []
def noted(work, before, after=None):
    def do(*given, **named):
        NOTES.append((before, time.time() * 1e3))
        done = work(*given, **named)
        if after:
            NOTES.append((after, time.time() * 1e3))
        return done
    return do
Widget._handle_msg = noted(Widget._handle_msg, "heard")
sharpen.encoded = noted(sharpen.encoded, "computed", "encoded")
proof.encoded = noted(proof.encoded, "computed", "encoded")"""
PARTS = ("heard", "computed", "encoded", "decoded", "painted")

# The control is given its key. Noted of each picture are the key's own time, that at
# which it was decoded, and that of the first frame that was painted with it.
WATCH = """([picture, words]) => {
  const rows = [...document.querySelectorAll(".widget-hslider, .widget-dropdown")];
  const row = rows.find((it) => it.offsetParent && it.textContent.includes(words));
  row.querySelector(".noUi-handle, select").focus();
  let pressed = 0;
  window.paints = [];
  document.addEventListener("keydown", (event) => { pressed = event.timeStamp; }, true);
  const image = document.querySelector(picture);
  image.addEventListener("load", () => {
    const loaded = performance.now();
    requestAnimationFrame(() => {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = () => {
        const times = [pressed, loaded, performance.now()];
        window.paints.push(times.map((it) => it + performance.timeOrigin));
        window.painted?.();
      };
      port2.postMessage(0);
    });
  });
}"""
PAINTED = """(count) => new Promise((resolve) => {
  window.painted = () => { if (window.paints.length >= count) resolve(); };
  window.painted();
})"""
SHOWN = "(picture) => document.querySelector(picture)?.naturalWidth > 0"
# Back to where the control began, for another round.
RESET = "bench.change(sharpen=SPEC.sharpen, colour=SPEC.colour)"
# Runs in the kernel: what a step costs there, with no browser in it.
KERNEL_SHARE = """\
import statistics
worked = []
for n in range({presses}):
    start = time.process_time()
    {change}
    panel.settle()
    worked.append((time.process_time() - start) * 1e3)
print(statistics.median(worked))"""


KEY_CODES = {"ArrowUp": 38, "ArrowRight": 39, "ArrowDown": 40}


def presses_of(tab, presses, keys):
    """Times of key, decoded and painted picture, for each press."""
    for count, key in enumerate(islice(cycle(keys), WARM_UP + presses), 1):
        tab.press(key, KEY_CODES[key])
        tab.call(PAINTED, count)
        # At another time of the screen's own beat for each press.
        time.sleep(PAUSE_S * (1 + count * 0.618 % 1))
    return tab.call("() => window.paints")[WARM_UP:]


def in_parts(press, notes):
    """Milliseconds from the key on at which each of `PARTS` was reached."""
    key, decoded, painted = press
    times = [key]
    for kind in PARTS[:3]:
        times.append(next(at for it, at in notes if it == kind and at >= times[-1]))
    return [at - key for at in (*times[1:], decoded, painted)]


def measure(lab, name, panel, change, options):
    """Milliseconds of each press by its parts, and the kernel's own median."""
    code, words, picture, keys = panel
    cells = [nbformat.v4.new_code_cell(cell) for cell in (BENCH, NOTE, code)]
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
            execute(tab, "NOTES.clear()")
            tab.call(WATCH, [picture, words])
            presses = presses_of(tab, options.presses, keys)
            notes = json.loads(execute(tab, "print(json.dumps(NOTES))"))
            taken += [in_parts(press, notes) for press in presses]
            execute(tab, f"{RESET}; panel.settle()")
        counted = KERNEL_SHARE.format(presses=options.presses, change=change)
        return taken, float(execute(tab, counted))


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
    parser.add_argument("--draw", type=Path, help="the same as a picture")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home, desk = Path(folder, "home"), Path(folder, "desk")
        home.mkdir()
        desk.mkdir()
        os.environ["PRINTPLAN_CACHE"] = str(home / "cache")
        make_master(desk / "master.tif", SIZES["28"][0], "photograph")
        with jupyterlab(home, desk) as lab:
            heads = "".join(f"{it:>9}" for it in PARTS)
            print(f"{'ms, until':24}{heads}   p90   CPU  goal")
            rows = {}
            for number, (words, panel, change, goal) in enumerate(CASES):
                name = f"case-{number}.ipynb"
                taken, cpu = measure(lab, name, panel, change, options)
                parts = [statistics.median(it) for it in zip(*taken, strict=True)]
                most = statistics.quantiles([it[-1] for it in taken], n=10)[-1]
                numbers = "".join(f"{it:9.0f}" for it in parts)
                print(
                    f"{words:24}{numbers} {most:5.0f} {cpu:5.0f} {goal:5}", flush=True
                )
                rows[words] = (parts, goal)
    if options.draw:
        draw(rows, options.draw)


def draw(rows, path):
    """A bar of its parts for each control, and its goal."""
    import matplotlib as mpl  # noqa: PLC0415 - only to draw

    mpl.use("Agg")
    from matplotlib import pyplot as plt  # noqa: PLC0415 - after the choice

    figure, axes = plt.subplots(figsize=(8, 1 + 0.6 * len(rows)), layout="constrained")
    for row, (parts, goal) in enumerate(rows.values()):
        for part, start, end in zip(PARTS, [0, *parts], parts, strict=False):
            colour = f"C{PARTS.index(part)}"
            label = part if row == 0 else None
            axes.barh(row, end - start, 0.6, start, color=colour, label=label)
        axes.plot([goal, goal], [row - 0.4, row + 0.4], color="black", linewidth=2)
    axes.set_yticks(range(len(rows)), rows)
    axes.invert_yaxis()
    axes.set_xlabel("milliseconds from the key until it is so, medians; black: goal")
    figure.legend(loc="outside upper center", ncols=len(PARTS), frameon=False)
    axes.spines[["top", "right"]].set_visible(False)
    figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)


if __name__ == "__main__":
    main()
