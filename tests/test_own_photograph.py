"""Each lesson runs on a photograph of one's own, and shows that one."""

import hashlib
import os
import shutil
from pathlib import Path

import nbformat
import numpy as np
import pytest
from nbclient import NotebookClient
from nbclient.output_widget import OutputWidget
from PIL import Image, ImageCms

from printplan.record.studio_folder import BOOK_NAME

NOTEBOOKS = sorted((Path(__file__).parent.parent / "notebooks").glob("*-*.ipynb"))
OPENS = "Bench.open(studio.lesson_path)"
SIZES = "longest-edge"


def link_large_files(source, target):
    """Masters and profiles are only read."""
    if source.endswith((".tif", ".icc")):
        os.link(source, target)
    else:
        shutil.copy2(source, target)


@pytest.fixture
def desk(studio, tmp_path, photographs):
    """A studio with a standing JPEG in sRGB, eight bits, not as large as the demo's."""
    folder = tmp_path / "desk"
    shutil.copytree(studio.folder, folder, copy_function=link_large_files)
    with Image.open(photographs / "red-bowl.jpg") as bowl:
        standing = bowl.convert("RGB").resize((1400, 1000)).transpose(Image.ROTATE_90)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    path = folder / "masters" / "mine.jpg"
    standing.save(path, quality=92, icc_profile=profile)
    assert np.asarray(standing).shape == (1400, 1000, 3)
    return folder


def hashes_of(folder):
    return {
        path.relative_to(folder): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.fixture
def no_echo(monkeypatch):
    """
    Outputs within widgets are not sent back to the kernel, which has no use for them:
    such a message on its way out can hide the cell's reply from the client, which then
    waits for its timeout (an edge-triggered socket, read and written by two tasks).
    """
    monkeypatch.setattr(OutputWidget, "sync_state", lambda _: None)


@pytest.mark.slow
@pytest.mark.usefixtures("no_echo")
@pytest.mark.parametrize("path", NOTEBOOKS, ids=[path.stem for path in NOTEBOOKS])
def test_lesson_runs_on_a_photograph_of_ones_own(path, desk, monkeypatch, tmp_path):
    """In its place, sized by its longest edge; no cell fails, no file is left."""
    monkeypatch.setenv("PRINTPLAN_CONFIG", str(tmp_path / "config"))
    notebook = nbformat.read(path, as_version=4)
    cells = [it for it in notebook.cells if it.cell_type == "code"]
    (opening,) = (it for it in cells if OPENS in it.source)
    # As by hand: the size first, then the panel's chooser.
    opening.source = opening.source.replace(
        OPENS,
        f"{OPENS}\n"
        "from printplan import SizeSpec\n"
        f"bench.change(size=SizeSpec(rule={SIZES!r}, longest_mm=180, ppi=300))\n"
        "bench.change_master('masters/mine.jpg')",
    )
    before = hashes_of(desk)
    NotebookClient(
        notebook, timeout=120, resources={"metadata": {"path": desk}}
    ).execute()
    assert hashes_of(desk) == before
    assert BOOK_NAME in {it.name for it in before}
    said = "\n".join(
        output.get("text", "") + output.get("data", {}).get("text/html", "")
        for cell in cells
        for output in cell.outputs
    )
    assert "seed-heads" not in said
