"""Every notebook is prose and calls, in one form; browser/ has what its run shows."""

import ast
import base64
import re
from io import BytesIO
from pathlib import Path

import nbformat
import pytest
from PIL import Image

from printplan import colour, sharpening, sizing

# Lessons; print.ipynb is a page for the day's work, with tests of its own.
NOTEBOOKS = sorted((Path(__file__).parent.parent / "notebooks").glob("*-*.ipynb"))
# A notebook is prose and calls: what needs more belongs in the package, with a test.
NOT_IN_CELLS = (
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

MOST_LINES = 10
"""Of a cell: it does one thing, and shows it (our choice)."""

MODULES = {
    "printplan",
    "printplan.workbook",
    "numpy",
    "matplotlib.pyplot",
    "ipywidgets",
    "printplan.demo",  # the studio, and what is invented: the package has no other
    "datetime",  # the day of a reading, and the moment of a record
}
"""What a cell may import from: a student finds every function where its family is."""

FAMILIES = {
    name
    for name in (*sizing.__all__, *sharpening.__all__, *colour.__all__)
    if name.islower()  # values such as Box and Chain are no functions
}
FEWEST_OF_FAMILIES = {
    "1-print-one-photograph": 4,
    "2-size-and-place": 8,
    "3-sharpen-for-a-paper": 14,
    "4-see-it-on-paper": 17,
    "5-decide-and-remember": 2,
    "teach-the-print-workflow": 5,
}
"""Functions of the families that a notebook calls itself, not through a panel. The
fifth is about findings, records and the journal, which have their own functions."""

WRITERS = {
    "render",
    "reprint",
    "write_trial_key",
    "write_sidecar_record",
    "make_invented_scan",
    "make_year_of_prints",
    "save_spread_reading",
    "save_restore_pick",
}
OF_A_PRACTICE_FILE = {"write_sidecar_record", "save_restore_pick"}
"""These write beside a file, or into a book, that an earlier cell put there."""

IN_THE_DEMO = re.compile(r"seed head|grass|hairs of|stem\b", re.IGNORECASE)
"""What only that photograph shows."""

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


def syntax(path):
    """The syntax trees of a notebook's cells, node by node."""
    for cell in code_cells(nbformat.read(path, as_version=4)):
        yield from ast.walk(ast.parse(cell.source))


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
        assert len(cell.source.splitlines()) <= MOST_LINES
        found = [
            type(node).__name__
            for node in ast.walk(ast.parse(cell.source))
            if isinstance(node, NOT_IN_CELLS)
        ]
        assert found == [], cell.source


@each_notebook
def test_function_in_a_cell_is_for_sliders_alone(path):
    for node in syntax(path):
        if isinstance(node, ast.FunctionDef):
            (handed,) = node.decorator_list
            assert isinstance(handed, ast.Call)
            assert ast.unparse(handed.func) == "interact"
            assert len(node.args.defaults) == len(node.args.args)


@each_notebook
def test_slider_follows_a_cell_that_shows_one_value(path):
    """What `interact` calls was called before, in a cell without a slider."""
    plain = set()
    for cell in code_cells(nbformat.read(path, as_version=4)):
        tree = ast.parse(cell.source)
        called = {name for name in called_names(tree) if name in FAMILIES}
        if "@interact" in cell.source:
            assert called <= plain, cell.source
        else:
            plain |= called


def called_names(tree):
    """Names of what is called, or handed on to be called for each of many numbers."""
    return {
        node.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)
    }


@each_notebook
def test_imports_are_those_of_a_student(path):
    for node in syntax(path):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0
            assert node.module in MODULES
            assert node.module != "ipywidgets" or [it.name for it in node.names] == [
                "interact"
            ]
        elif isinstance(node, ast.Import):
            assert {it.name for it in node.names} <= MODULES - {"printplan"}


@each_notebook
def test_keywords_are_written_out(path):
    """Nothing comes out of a dict that stands in another cell."""
    calls = [node for node in syntax(path) if isinstance(node, ast.Call)]
    assert calls
    assert all(word.arg is not None for call in calls for word in call.keywords)


@each_notebook
def test_notebook_calls_the_functions_it_is_about(path):
    cells = code_cells(nbformat.read(path, as_version=4))
    called = {name for it in cells for name in called_names(ast.parse(it.source))}
    assert len(called & FAMILIES) >= FEWEST_OF_FAMILIES[path.stem]


@each_notebook
def test_notebook_works_on_a_copy_and_keeps_nothing(path):
    first, second, *rest = (
        cell.source for cell in code_cells(nbformat.read(path, as_version=4))
    )
    assert 'make_studio("."' in first
    assert "Bench.open(studio.lesson_path)" in second
    for source in (first, second, *rest):
        assert ".keep" not in source
        assert "job_path" not in source
        assert "studio.book_path" not in source
        # What is rendered or written goes into the folder that is gone afterwards.
        for name in WRITERS & called_names(ast.parse(source)):
            assert "practice" in source or name in OF_A_PRACTICE_FILE, source


@each_notebook
def test_a_figure_of_the_bench_follows_it(path):
    """Where a slider is bound to it, it follows the slider."""
    for cell in code_cells(nbformat.read(path, as_version=4)):
        if "@interact" not in cell.source:
            assert not re.search(r"_picture\(\s*bench\b", cell.source), cell.source


@each_notebook
def test_what_is_plotted_is_said(path):
    for cell in code_cells(nbformat.read(path, as_version=4)):
        assert ("plt.figure(" in cell.source) == ("plot_picture(" in cell.source)


@each_notebook
def test_a_photograph_of_ones_own_can_be_opened(path):
    """Nothing of the demo's is in the code: neither its space nor its pixels' depth."""
    sources = [it.source for it in code_cells(nbformat.read(path, as_version=4))]
    assert any("MasterPanel(bench).ui" in it for it in sources)
    for source in sources:
        assert "romm" not in source
        assert "65535" not in source


@each_notebook
def test_places_in_the_demo_s_photograph_are_said_to_be_there(path):
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type == "markdown":
            for line in cell.source.splitlines():
                if IN_THE_DEMO.search(line):
                    assert "demo's photograph" in line, line


@each_notebook
def test_a_picture_is_there_before_anything_is_run(path):
    """It comes within the first cell, before its prose, and says what it shows."""
    first = nbformat.read(path, as_version=4).cells[0]
    title, picture = first.source.split("\n\n")[:2]
    assert title.startswith("# ")
    embedded = re.fullmatch(r"!\[(.{30,})\]\(attachment:(.+)\)", picture)
    alternative, name = embedded.groups()
    assert alternative[0].isupper()
    data = base64.b64decode(first.attachments[name]["image/jpeg"])
    width_px, height_px = Image.open(BytesIO(data)).size
    assert width_px >= 800
    # JupyterLab leaves about 690 px of 900 to a page, and the title takes 90.
    assert height_px <= 600


@each_notebook
def test_a_picture_comes_early(path):
    """The second cell of code already ends with one."""
    _, second, *_ = code_cells(nbformat.read(path, as_version=4))
    last = second.source.splitlines()[-1]
    assert re.fullmatch(r"live\(figures\.\w+_picture, bench.*\)", last)


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
