"""
What tests in a real browser share: a server, a Chromium, folders to work in.

A file of tests stays in one worker (``--dist loadfile``): each worker has a server of
its own, each file a Chromium.
"""

import os
import shutil
from pathlib import Path

import pytest
from chromium import CHROMIUM_FLAGS, chromium_path
from lab_server import jupyterlab
from notebook_page import NotebookPage
from outside_tools import found, missing
from playwright.sync_api import sync_playwright

from printplan.workbook.own_page import lab_extension

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "notebooks" / "print.ipynb"

NARROW = {"width": 1024, "height": 768}


@pytest.fixture(scope="session")
def lab(tmp_path_factory, working_copies):
    """One JupyterLab for all tests of this worker."""
    assert os.environ["PRINTPLAN_CACHE"] == str(working_copies)
    home, desks = tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("desks")
    with lab_extension(PAGE) as folder:
        option = f"--LabApp.extra_labextensions_path={folder}"
        with jupyterlab(home, desks, option) as server:
            yield server


@pytest.fixture(scope="module")
def playwright():
    """
    The driver of all browsers; there can be one at a time.

    Its loop counts as running in this thread, as a kernel's would, so it ends with each
    file: other tests of this worker must not take it for a page that is served.
    """
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="module")
def chromium(playwright):
    """One Chromium for all tests of a file."""
    browser = playwright.chromium.launch(
        executable_path=found(chromium_path, playwright.chromium),
        args=CHROMIUM_FLAGS,
    )
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def axe_source():
    """The checks of axe-core, a published set of rules of accessibility."""
    near = HERE.parent.parent / "node_modules" / "axe-core" / "axe.min.js"
    path = Path(os.environ.get("PRINTPLAN_AXE") or near)
    if not path.is_file():
        missing(
            f"axe-core is not at {path}. Run: npm install --no-save axe-core, or set "
            "PRINTPLAN_AXE to an axe.min.js."
        )
    return path.read_text(encoding="utf-8")


def link_large_files(source, target):
    """Masters, profiles and prints are only read; everything small is copied."""
    if source.endswith((".tif", ".icc")):
        os.link(source, target)
    else:
        shutil.copy2(source, target)


@pytest.fixture(scope="session")
def new_studio(studio):
    """Make a folder with a studio of its own in it."""

    def make(folder):
        return shutil.copytree(studio.folder, folder, copy_function=link_large_files)

    return make


@pytest.fixture(scope="session")
def new_desk(lab, new_studio):
    """Make such a folder where JupyterLab finds it."""
    return lambda name: new_studio(lab.folder / name)


@pytest.fixture(scope="module")
def new_page(chromium, lab):
    """Open a page on JupyterLab in a browser context of its own."""
    contexts = []

    def make(size=NARROW):
        context = chromium.new_context(viewport=size)
        contexts.append(context)
        return NotebookPage(context.new_page(), lab)

    yield make
    for context in contexts:
        context.close()


@pytest.fixture(scope="module")
def open_cells(new_page):
    """Put a notebook of code cells into a desk, open it, and run it."""

    def make(desk, cells, name="bench.ipynb", size=NARROW):
        return new_page(size).write(desk / name, cells).run_all()

    return make
