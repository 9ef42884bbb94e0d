"""
Do time and memory keep to the pixel, up to a thousand megapixels, and how soon is a
print given up?

Makes 16-bit masters of a photograph, prints them 423 × 635 mm large at resolutions that
give 28, 112, 448 and 1000 megapixels, each in a fresh process, and tells nanoseconds
for each print pixel and the peak of anonymous memory: first with masters of a quarter
of the print's pixels, so that each print enlarges as much as the others, then from one
master of 50 megapixels, which has less to give to each pixel of a larger print. Then
gives a print of 1000 megapixels up after a tenth of its rows, and tells how long that
took. The largest file has 6 GB.

    python tests/benchmarks/gigapixel.py
"""

import argparse
import json
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from engine import SIZES, make_master, make_paper_profile, peak_anonymous, run_printplan

PRINT_IN = (16.667, 25.0)
MEGAPIXELS = (28, 112, 448, 1000)


class GivenUpError(Exception):
    """What a person does who stops a print."""


def size_of(megapixels):
    """Size in pixels, and pixels per inch."""
    ppi = round((megapixels * 1e6 / (PRINT_IN[0] * PRINT_IN[1])) ** 0.5, 2)
    return tuple(round(edge * ppi) for edge in PRINT_IN), ppi


def one(folder, megapixels, *, give_up):
    size, ppi = size_of(megapixels)
    out = folder / "out.tif"
    stop, found, stopped = threading.Event(), [0.0], [0.0]

    def progress(done_rows, all_rows):
        if give_up and done_rows > all_rows / 10:
            stopped[0] = time.perf_counter()
            raise GivenUpError

    watcher = threading.Thread(target=peak_anonymous, args=(stop, found))
    watcher.start()
    try:
        wall, cpu = run_printplan(
            folder / "master.tif", folder / "paper.icc", out, size, ppi, progress
        )
        told = {"wall": wall, "cpu": cpu, "px": size[0] * size[1], "mib": found[0]}
    except GivenUpError:
        told = {"given_up_s": time.perf_counter() - stopped[0]}
    finally:
        stop.set()
        watcher.join()
    assert give_up != out.exists()
    out.unlink(missing_ok=True)
    print(json.dumps(told))


def print_measured(folder, megapixels):
    told = measured(folder, megapixels)
    each = {key: 1e9 * told[key] / told["px"] for key in ("wall", "cpu")}
    print(
        f"{told['px'] / 1e6:5.0f} MP  wall {each['wall']:5.1f} ns  "
        f"CPU {each['cpu']:5.1f} ns a pixel  peak {told['mib']:4.0f} MiB"
    )


def measured(folder, megapixels, *options):
    command = [sys.executable, __file__, "--folder", str(folder)]
    done = subprocess.run(
        [*command, "--one", str(megapixels), *options],
        check=True,
        capture_output=True,
        text=True,
    )
    return json.loads(done.stdout.splitlines()[-1])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--one", type=float)
    parser.add_argument("--give-up", action="store_true")
    asked = parser.parse_args()
    if asked.one:
        one(asked.folder, asked.one, give_up=asked.give_up)
        return
    with tempfile.TemporaryDirectory(dir=asked.folder) as name:
        folder = Path(name)
        make_paper_profile(folder / "paper.icc")
        print("from a master of a quarter of the pixels")
        for megapixels in MEGAPIXELS:
            size = size_of(megapixels)[0]
            quarter = tuple(edge // 2 for edge in size)
            make_master(folder / "master.tif", quarter, "photograph")
            print_measured(folder, megapixels)
        print("from a master of 50 megapixels")
        make_master(folder / "master.tif", SIZES["28"][0], "photograph")
        for megapixels in MEGAPIXELS:
            print_measured(folder, megapixels)
        told = measured(folder, MEGAPIXELS[-1], "--give-up")
        print(f"given up within {told['given_up_s']:.2f} s")


if __name__ == "__main__":
    main()
