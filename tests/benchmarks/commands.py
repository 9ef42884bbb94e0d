"""
How long do the commands of a print take as somebody gives them, start to end?

Makes a 16-bit master of 50 megapixels of a photograph in the demo's studio and a plan
of 28 megapixels for it, then gives `printplan check` and `printplan render` in turn,
each in a fresh process; medians in seconds beside the goal. The first check, which
measures the master, is told by itself: later ones find what it kept. Last, the time of
`import printplan`.

    python tests/benchmarks/commands.py [--rounds 5]
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from engine import SIZES, make_master

from printplan.demo.studio import make_studio
from printplan.loops.machine_code import compile_loops
from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.spec import SizeRule, SizeSpec

IMPORT = """
import time
start = time.perf_counter()
import printplan
print(time.perf_counter() - start)"""


def make_plan(folder):
    """The demo's plan, for another master and size."""
    studio = make_studio(folder)
    desk = studio.plan_path.parent
    make_master(desk / "masters" / "bench.tif", SIZES["28"][0], "photograph")
    (width, height), ppi = SIZES["28"][1:]
    wish = read_plan_file(studio.plan_path)
    size = SizeSpec(
        rule=SizeRule.FILL,
        width_mm=width * 25.4 / ppi,
        height_mm=height * 25.4 / ppi,
        ppi=ppi,
    )
    spec = replace(
        wish.spec, size=size, sheet=replace(wish.spec.sheet, media_size="A2")
    )
    master = replace(wish.master, file="masters/bench.tif")
    path = desk / "bench.toml"
    write_plan_file(replace(wish, master=master, spec=spec), path)
    return path


def seconds(*command):
    start = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    taken = time.perf_counter() - start
    if done.returncode not in (0, 1):  # 1: a finding that stops a print
        raise RuntimeError(done.stderr)
    return taken, done.stdout


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--rounds", type=int, default=5)
    asked = parser.parse_args()
    printplan = [Path(sys.executable).with_name("printplan")]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ["PRINTPLAN_CACHE"] = str(folder / "cache")
        compile_loops()
        plan = make_plan(folder / "studio")
        first, _ = seconds(*printplan, "check", plan)
        checks, renders, imports = [], [], []
        for number in range(asked.rounds):
            checks.append(seconds(*printplan, "check", plan)[0])
            out = folder / f"{number}.tif"
            renders.append(seconds(*printplan, "render", plan, "--out", out)[0])
            assert out.is_file()
            out.unlink()
            imports.append(float(seconds(sys.executable, "-c", IMPORT)[1]))
    for what, goal, taken in (
        ("check", 1.5, checks),
        ("render", 3, renders),
        ("import printplan", 0.1, imports),
    ):
        print(f"{what:18} {statistics.median(taken):6.2f} s, goal {goal}")
    print(f"the first check    {first:6.2f} s")


if __name__ == "__main__":
    main()
