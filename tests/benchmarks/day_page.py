"""
How long from a key to painted pixels on the page for the day's work?

Makes a 50 megapixel 16-bit master and an A2 print of it at 360 ppi in a studio, opens
the page in JupyterLab and Chromium, and presses an arrow key on one slider after the
other, each time after the picture of the one before has been painted and a pause.
Prints how long the page took to its first picture, and medians and nine in ten, in
milliseconds, beside the goal.

    python -m pip install ".[benchmarks]"
    python tests/benchmarks/day_page.py [--presses 25]
"""

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "browser")]

from devtools import open_tab  # noqa: E402 - beside this file
from engine import SIZES, make_master  # noqa: E402 - likewise
from lab_server import jupyterlab  # noqa: E402 - beside the browser tests

from printplan.demo.studio import make_studio  # noqa: E402 - after the paths
from printplan.record.plan_file import PlanFile, write_plan_file  # noqa: E402
from printplan.spec import (  # noqa: E402
    MasterSpec,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)
from printplan.workbook.launch import kernel_environment  # noqa: E402
from printplan.workbook.own_page import lab_extension  # noqa: E402

PAGE = HERE.parents[1] / "notebooks" / "print.ipynb"
WARM_UP = 5
PAUSE_S = 0.4
WITHIN_S = 10.0

# Step, slider, what shows that it was painted, and our goal in ms.
CASES = (
    ("exact window, gain", "Sharpness", "gain", ".printplan-loupe-stage canvas", 60),
    (
        "exact window, radius",
        "Sharpness",
        "radius",
        ".printplan-loupe-stage canvas",
        60,
    ),
    ("whole sheet, width", "Size", "width", ".printplan-sheet-drawing", 120),
    ("whole sheet, offset", "Size", "offset", ".printplan-sheet-drawing", 120),
)
SHOWN = """() => [...document.querySelectorAll(".printplan-sheet-photo")].some(
  (it) => it.getAttribute("href"))"""
UNFOLD = """(title) => {
  const fold = [...document.querySelectorAll(".printplan-steps [aria-expanded]")].find(
    (it) => it.textContent.includes(title));
  if (fold.getAttribute("aria-expanded") !== "true") fold.click();
}"""
# Each paint sets an attribute of what was painted, which the next frame shows.
WATCH = """([words, selector]) => {
  const rows = [...document.querySelectorAll(".printplan-steps .widget-hslider")];
  const row = rows.find((it) => it.offsetParent && it.textContent.includes(words));
  row.querySelector(".noUi-handle").focus();
  let pressed = 0;
  window.paints = [];
  window.addEventListener("keydown", (event) => { pressed = event.timeStamp; }, true);
  const painted = [...document.querySelectorAll(selector)].find(
    (it) => it.getBoundingClientRect().width > 0);
  window.paintWatch?.disconnect();
  window.paintWatch = new MutationObserver(() => requestAnimationFrame(() => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => {
      if (!pressed) return;
      window.paints.push(performance.now() - pressed);
      pressed = 0;
    };
    port2.postMessage(0);
  }));
  window.paintWatch.observe(painted, {
    attributes: true, attributeFilter: ["data-id", "data-px-per-mm"],
  });
}"""
COUNT = "(count) => window.paints.length >= count"


def make_job(folder):
    """A studio with a large master, and the plan of an A2 print."""
    studio = make_studio(folder)
    make_master(folder / "masters" / "large.tif", SIZES["28"][0], "photograph")
    feed = studio.book.paper("Fen Cotton 310").on_printer[0].feeds[0]
    plan = PlanFile(
        master=MasterSpec(file="../masters/large.tif"),
        book="../paper-book.toml",
        paper="Fen Cotton 310",
        printer=studio.book.printers[0].name,
        spec=PrintSpec(
            size=SizeSpec(rule=SizeRule.WIDTH, width_mm=340, ppi=360),
            sharpen=SharpenSpec(gain=0.8, radius_mm=0.127),
            sheet=SheetSpec(media_size="A2", feed=feed),
        ),
    )
    write_plan_file(plan, folder / "job" / "large.toml")
    (folder / ".printplan-last-job").write_text("job/large.toml\n", encoding="utf-8")
    shutil.copy(PAGE, folder / PAGE.name)


def measure(tab, title, words, selector, presses):
    tab.call(UNFOLD, title)
    time.sleep(4)
    tab.call(WATCH, [words, selector])
    for count in range(1, WARM_UP + presses + 1):
        tab.press("ArrowRight", 39)
        tab.wait_for(COUNT, count)
        time.sleep(PAUSE_S * (1 + count * 0.618 % 1))
    return tab.call("() => window.paints")[WARM_UP:]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--presses", type=int, default=25)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home, desk = Path(folder, "home"), Path(folder, "desk")
        home.mkdir()
        desk.mkdir()
        os.environ |= kernel_environment() | {"PRINTPLAN_CACHE": str(home / "cache")}
        make_job(desk / "studio")
        with lab_extension(PAGE) as extension:
            option = f"--LabApp.extra_labextensions_path={extension}"
            with jupyterlab(home, desk, option) as lab:
                begun = time.monotonic()
                with open_tab(lab.address("lab/tree/studio/print.ipynb")) as tab:
                    tab.wait_for(SHOWN)
                    print(
                        f"first picture {time.monotonic() - begun:.1f} s after the "
                        f"page was asked for; {WITHIN_S:g} allowed"
                    )
                    time.sleep(8)
                    print(f"{'ms':24}   p50   p90  goal")
                    for words, title, slider, selector, goal in CASES:
                        taken = measure(tab, title, slider, selector, options.presses)
                        most = statistics.quantiles(taken, n=10)[-1]
                        print(
                            f"{words:24} {statistics.median(taken):5.0f} {most:5.0f} "
                            f"{goal:5}",
                            flush=True,
                        )


if __name__ == "__main__":
    main()
