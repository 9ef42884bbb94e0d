"""Every notebook is prose and calls, in one form; browser/ has what its run shows."""

import ast
import re
from pathlib import Path

import nbformat
import pytest

NOTEBOOKS = sorted((Path(__file__).parent.parent / "notebooks").glob("*.ipynb"))
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

HIDDEN = re.compile(
    r"\n\n<details>\n<summary>[^<\n]+</summary>\n\n.+?\n\n</details>", re.DOTALL
)
"""An answer that a click shows; without its empty lines Markdown in it stays raw."""

SENTENCE_ENDS_WITHIN = re.compile(r"[a-z0-9)][.?!]\*?\*? [A-Z]")
"""Two sentences on a line; a label such as "**Try it.** Pull" is no sentence."""

each_notebook = pytest.mark.parametrize(
    "path", NOTEBOOKS, ids=[path.stem for path in NOTEBOOKS]
)


def code_cells(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def test_there_is_a_first_notebook():
    assert NOTEBOOKS[0].name == "1-print-one-photograph.ipynb"


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


@each_notebook
def test_notebook_begins_and_ends_with_the_shared_job(path):
    first, second, *_, last = (
        cell.source for cell in code_cells(nbformat.read(path, as_version=4))
    )
    assert 'make_studio("."' in first
    assert "Bench.open(studio.job_path)" in second
    assert last == "print(bench.keep())"


@each_notebook
def test_a_picture_comes_early(path):
    """The second cell of code already ends with one."""
    _, second, *_ = code_cells(nbformat.read(path, as_version=4))
    assert re.fullmatch(r"figures\.\w+_picture\(.*\)", second.source.splitlines()[-1])


@each_notebook
def test_exercises_have_hidden_answers(path):
    prose = "\n\n".join(
        cell.source
        for cell in nbformat.read(path, as_version=4).cells
        if cell.cell_type == "markdown"
    )
    answers = HIDDEN.findall(f"{prose}\n")
    assert len(answers) >= 4
    assert len(answers) == prose.count("<details>") == prose.count("<summary>")
    assert all("<details>" not in answer[12:] for answer in answers)


@each_notebook
def test_prose_has_one_sentence_a_line(path):
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type != "markdown":
            continue
        for line in cell.source.splitlines():
            bare = re.sub(r"^(## \d+\.|(- )?\*\*[^*]+\*\*) ", "", line)
            assert not SENTENCE_ENDS_WITHIN.search(bare), line


def test_notebooks_are_in_the_order_of_the_work():
    """The launcher opens the first; the numbered ones come before the others."""
    numbers = [path.stem.split("-")[0] for path in NOTEBOOKS]
    numbered = [number for number in numbers if number.isdigit()]
    assert numbers[: len(numbered)] == numbered
    assert numbered == [str(place) for place in range(1, len(numbered) + 1)]
