"""What the tests share: the demo studio made once, and small masters."""

import os
from collections import OrderedDict
from dataclasses import replace
from pathlib import Path
from threading import Event

import numpy as np
import outside_tools
import pytest
import tifffile
from filelock import FileLock
from hypothesis import settings

from printplan.colour.profiles import open_profile
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import tone_curves
from printplan.demo.studio import make_studio
from printplan.loops.machine_code import compile_loops
from printplan.pixels import picture_content
from printplan.pixels.master import open_master
from printplan.plan import resolve
from printplan.record.paper_book import write_paper_book
from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.spec import (
    ColourSpec,
    DeliverySpec,
    NamedSpace,
    PrintSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

# A busy machine is no reason to call a claim false: benchmarks measure time.
# The CI run draws the same examples each time; a person's runs go on looking.
settings.register_profile("printplan", deadline=None, derandomize="CI" in os.environ)
settings.register_profile("few", settings.get_profile("printplan"), max_examples=15)
settings.load_profile("printplan")


BROWSER = Path(__file__).parent / "browser"


def pytest_sessionstart(session):
    """Have the loops compiled once, before workers and programs want them at once."""
    if not hasattr(session.config, "workerinput"):
        compile_loops()


def pytest_addoption(parser):
    parser.addoption(
        "--one-case",
        action="store_true",
        help="of a test with many cases, run the first: what libraries do, not numbers",
    )


@pytest.hookimpl(wrapper=True)
def pytest_collection_modifyitems(config, items):
    """All that is in the folder of the browser needs one."""
    for item in items:
        if BROWSER in item.path.parents:
            item.add_marker("browser")
    yield  # what other options leave out is gone
    if config.getoption("--one-case"):
        first = {}
        for item in items:
            first.setdefault(item.nodeid.partition("[")[0], item)
        kept = set(first.values())
        left_out = [it for it in items if it not in kept]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [it for it in items if it in kept]


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item):
    outside_tools.use([it for mark in item.iter_markers("tools") for it in mark.args])


@pytest.fixture(scope="session")
def shared(tmp_path_factory):
    """A folder of all workers of this run."""
    folder = tmp_path_factory.getbasetemp()
    return folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder


@pytest.fixture(scope="session", autouse=True)
def working_copies(shared):
    """Keep decoded masters of the tests out of the user's own cache."""
    folder = shared / "cache"
    os.environ["PRINTPLAN_CACHE"] = str(folder)
    return folder


@pytest.fixture(scope="session")
def photographs():
    return Path(__file__).parent.parent / "demo_images"


@pytest.fixture(scope="session")
def fogra39_path():
    return Path(__file__).parent / "data" / "FOGRA39L_coated.icc"


@pytest.fixture(scope="session")
def fogra39(fogra39_path):
    return open_profile(fogra39_path)


@pytest.fixture(scope="session")
def studio(shared):
    """The demo studio, made once for all workers of this run."""
    with FileLock(shared / "studio.lock"):
        return make_studio(shared / "studio")


@pytest.fixture
def nothing_kept(tmp_path, monkeypatch):
    """Forgets, when it is called, the content of all pictures, here and on the disk."""

    def forget():
        monkeypatch.setenv("PRINTPLAN_CACHE", str(tmp_path / "emptied"))
        monkeypatch.setattr(picture_content._kept, "_known", OrderedDict())

    return forget


@pytest.fixture(scope="session")
def paper_profiles(studio):
    """Output profiles of the demo papers by the paper's name."""
    return {
        paper.name: open_profile(paper.on(studio.book.printers[0]).profile)
        for paper in studio.book.papers
    }


@pytest.fixture(scope="session")
def plan_for(studio):
    """A plan on the demo's printer and papers from a few plain numbers."""

    def make(
        master,
        *,
        paper="Fen Cotton 310",
        width_mm=120.0,
        ppi=300.0,
        gain=0.0,
        radius_mm=0.127,
        halo_limit_share=None,
        grain_floor_l=0.0,
        colour=None,
        delivery=None,
        sheet_mm=None,
        **sheet,
    ):
        printer = studio.book.printers[0]
        chosen = studio.book.paper(paper)
        feed = chosen.on(printer).feeds[0]
        spec = PrintSpec(
            size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=ppi),
            sharpen=SharpenSpec(
                gain=gain,
                radius_mm=radius_mm,
                halo_limit_share=halo_limit_share,
                grain_floor_l=grain_floor_l,
            ),
            colour=colour or ColourSpec(),
            sheet=SheetSpec(
                **({"media_size": "A3", "feed": feed} | (sheet_mm or {}) | sheet)
            ),
            delivery=delivery or DeliverySpec(),
        )
        return resolve(master.facts, chosen, printer, spec)

    return make


@pytest.fixture
def gate_of():
    """
    Gates that a test holds a worker at; all are open when the test has ended.

    Else the worker of a test that failed would wait on, and fail within another one.
    Asked for after what the worker works with, it lets go before that is taken away.
    """
    gates = []

    def make():
        gates.append(Event())
        return gates[-1]

    yield make
    for gate in gates:
        gate.set()


@pytest.fixture
def master_of(tmp_path):
    """A master in ROMM RGB made of an array of 16-bit codes."""
    opened = []

    def make(pixels):
        path = tmp_path / f"master-{len(opened)}.tif"
        tifffile.imwrite(
            path,
            pixels,
            photometric="rgb",
            iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
            metadata=None,
        )
        opened.append(open_master(path))
        return opened[-1]

    yield make
    for master in opened:
        master.close()


@pytest.fixture(params=list(NamedSpace))
def any_tone_curves(request):
    return tone_curves(named_profile(request.param))


@pytest.fixture(scope="session")
def textured():
    """A small picture with edges, texture, gradients and strong colour."""
    rng = np.random.default_rng(3)
    rows, columns = np.indices((210, 320))
    red = 0.5 + 0.5 * np.sin(columns / 5)
    green = (rows / 210) ** 2
    blue = ((rows // 30 + columns // 30) % 2) * 0.8 + 0.1
    waves = np.stack([red, green, blue], axis=-1)
    noisy = waves + rng.normal(0, 0.03, waves.shape)
    return np.rint(np.clip(noisy, 0, 1) * 65535).astype(np.uint16)


@pytest.fixture
def job(studio, tmp_path):
    """A job folder with a plan of its own, beside a paper book of its own."""
    write_paper_book(studio.book, tmp_path / "book.toml")
    folder = tmp_path / "job"
    folder.mkdir()
    wish = read_plan_file(studio.plan_path).resolved(studio.plan_path)
    write_plan_file(replace(wish, book="../book.toml"), folder / "plan.toml")
    return folder / "plan.toml"
