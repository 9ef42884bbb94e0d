"""Every notebook runs from top to bottom, offline, in a folder of its own."""

import ast
import os
import shutil
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parent.parent / "notebooks").glob("*.ipynb"))
PRINTS = {"1-print-one-photograph": "first-print"}
"""What each notebook leaves in its folder."""

# A notebook is prose and calls: what needs more belongs in the package, with a test.
NOT_IN_CELLS = (
    ast.FunctionDef,
    ast.AsyncFunctionDef,
    ast.Lambda,
    ast.ClassDef,
    ast.For,
    ast.AsyncFor,
    ast.While,
    ast.If,
    ast.IfExp,
    ast.comprehension,
    ast.Compare,
    ast.Try,
)

each_notebook = pytest.mark.parametrize(
    "path", NOTEBOOKS, ids=[path.stem for path in NOTEBOOKS]
)


def code_cells(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def link_large_files(source, target):
    """Masters and prints are only read; everything small is copied."""
    if source.endswith((".tif", ".icc")):
        os.link(source, target)
    else:
        shutil.copy2(source, target)


@pytest.fixture
def own_folder(studio, tmp_path, monkeypatch):
    """A folder with the studio in it, and none of the user's own settings."""
    for name in ("CONFIG", "DATA", "RUNTIME"):
        monkeypatch.setenv(f"JUPYTER_{name}_DIR", str(tmp_path / name.lower()))
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    return shutil.copytree(
        studio.folder, tmp_path / "own folder", copy_function=link_large_files
    )


def test_there_is_a_first_notebook():
    assert NOTEBOOKS[0].name == "1-print-one-photograph.ipynb"
    assert {path.stem for path in NOTEBOOKS} == set(PRINTS)


@each_notebook
def test_notebook_runs_and_keeps_the_print_that_is_there(path, own_folder):
    earlier = own_folder / f"{PRINTS[path.stem]}.tif"
    earlier.write_bytes(b"made on an earlier run")
    notebook = nbformat.read(path, as_version=4)
    # A cell that raises ends the run with its traceback.
    NotebookClient(
        notebook, timeout=120, resources={"metadata": {"path": str(own_folder)}}
    ).execute()
    assert earlier.read_bytes() == b"made on an earlier run"
    assert (own_folder / f"{PRINTS[path.stem]}-2.tif").stat().st_size > 1e6
    kinds = [
        kind
        for cell in code_cells(notebook)
        for output in cell.outputs
        for kind in output.get("data", {})
    ]
    assert kinds.count("image/jpeg") >= 3
    assert kinds.count("application/vnd.jupyter.widget-view+json") >= 3
    texts = [
        output
        for cell in code_cells(notebook)
        for output in cell.outputs
        if output.output_type == "error" or output.get("name") == "stderr"
    ]
    assert texts == []


@each_notebook
def test_notebook_is_committed_without_outputs(path):
    notebook = nbformat.read(path, as_version=nbformat.NO_CONVERT)
    nbformat.validate(notebook)
    assert (notebook.nbformat, notebook.nbformat_minor) == (4, 5)
    assert notebook.metadata.kernelspec.name == "python3"
    assert "widgets" not in notebook.metadata
    for cell in code_cells(notebook):
        assert cell.outputs == []
        assert cell.execution_count is None


@each_notebook
def test_notebook_opens_with_what_it_is_about(path):
    first = nbformat.read(path, as_version=4).cells[0].source
    assert first.startswith("# ")
    for heading in ("What you'll do", "What you'll need", "What you'll learn"):
        assert f"**{heading}.**" in first


@each_notebook
def test_cells_are_short_and_hold_no_program(path):
    for cell in code_cells(nbformat.read(path, as_version=4)):
        assert len(cell.source.splitlines()) <= 5
        found = [
            type(node).__name__
            for node in ast.walk(ast.parse(cell.source))
            if isinstance(node, NOT_IN_CELLS)
        ]
        assert found == [], cell.source
