"""
How much memory does a kernel take that runs the first lesson on a large master?

Makes ten 50 megapixel 16-bit masters, runs every cell of the first notebook on one of
them with the environment that ``printplan open`` gives to kernels, opens every panel
beside it, and then lays the other nine on the bench in turn. Prints the kernel's
largest resident memory after each step, and what of it holds pages of files, which the
system takes back when it needs them.

    python -m pip install ".[benchmarks]"
    python tests/benchmarks/kernel_memory.py

Linux only.
"""

import os
import shutil
import sys
import tempfile
from pathlib import Path

import nbformat
import numpy as np
import tifffile
from nbclient import NotebookClient

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

from engine import SIZES, make_master  # noqa: E402 - beside this file

from printplan.workbook.launch import kernel_environment  # noqa: E402 - after the path

LESSON = HERE.parents[1] / "notebooks" / "1-print-one-photograph.ipynb"
OPENED = "Bench.open(studio.lesson_path"
MASTERS = 10
ALLOWED_MB = 1000
PANELS = """
import printplan.workbook as _workbook
_kinds = [
    _workbook.MasterPanel, _workbook.SizePanel, _workbook.SharpenPanel,
    _workbook.ProofPanel, _workbook.CheckPanel, _workbook.FinishPanel,
    _workbook.TrialPanel, _workbook.Loupe,
]
_panels = [kind(bench) for kind in _kinds]
"""
MEASURE = """
_told = dict(line.split(":") for line in open("/proc/self/status"))
print(*(int(_told[it].split()[0]) * 1024 // 10**6 for it in ("VmHWM", "RssFile")))
"""
CHANGE = """
bench.change_master("{master}")
for _it in bench._watchers.values():
    getattr(_it, "settle", lambda: None)()
"""


def make_masters(folder):
    """Landscapes, of which no two are the same file."""
    make_master(folder / "portrait.tif", SIZES["28"][0], "photograph")
    with tifffile.TiffFile(folder / "portrait.tif") as file:
        pixels, profile = file.asarray(), file.pages[0].iccprofile
    (folder / "portrait.tif").unlink()
    for number in range(MASTERS):
        turned = np.ascontiguousarray(np.rot90(pixels, 1 + 2 * (number % 2)))
        turned[number, number] = number
        path = folder / f"master-{number}.tif"
        tifffile.imwrite(
            path, turned, photometric="rgb", iccprofile=profile, metadata=None
        )
        yield path


def steps(masters):
    """The lesson's code on a large master, each cell followed by a measurement."""
    code = [it for it in nbformat.read(LESSON, 4).cells if it.cell_type == "code"]
    begun = next(it for it in code if OPENED in it.source)
    begun.source = begun.source.replace(OPENED, f'{OPENED}, master="{masters[0]}"')
    added = [PANELS, *(CHANGE.format(master=it) for it in masters[1:])]
    for cell in [*code, *map(nbformat.v4.new_code_cell, added)]:
        yield cell
        yield nbformat.v4.new_code_cell(MEASURE)


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        masters = list(make_masters(folder))
        os.environ |= kernel_environment() | {"PRINTPLAN_CACHE": str(folder / "cache")}
        shutil.copy(LESSON, folder)
        notebook = nbformat.v4.new_notebook(cells=list(steps(masters)))
        client = NotebookClient(
            notebook,
            timeout=600,
            kernel_name="python3",
            resources={"metadata": {"path": name}},
        )
        client.execute()
        print("largest MB, of them now pages of files")
        for cell, measured in zip(
            notebook.cells[::2], notebook.cells[1::2], strict=True
        ):
            last = cell.source.strip().splitlines()[-1]
            print(f"{measured.outputs[0].text.strip():>9}  {last[:70]}")
        print(f"allowed: {ALLOWED_MB}")


if __name__ == "__main__":
    main()
