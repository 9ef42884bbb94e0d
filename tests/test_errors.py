import ast
import copy
import pickle
import re
from enum import StrEnum
from pathlib import Path

import pytest

import printplan
from printplan import errors, spec
from printplan.errors import (
    FitError,
    MasterError,
    PrintPlanError,
    Setting,
    SpecError,
)
from printplan.workbook.remedies import CONTROLS, remedy_words

PACKAGE = Path(printplan.__file__).parent
FAMILY = {
    name: kind
    for name, kind in vars(errors).items()
    if isinstance(kind, type) and issubclass(kind, PrintPlanError)
}


def made_errors(tree):
    """Every place where an error of ours is made: ``SpecError(…)``, ``type(e)(…)``."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and (
            name_of(node.func) in FAMILY or is_type_of_another(node.func)
        ):
            yield node


def name_of(node):
    return getattr(node, "id", getattr(node, "attr", ""))


def is_type_of_another(node):
    return isinstance(node, ast.Call) and name_of(node.func) == "type"


def ends_of(node):
    """How a text may end, as far as it is written there; None where it is not."""
    if isinstance(node, ast.Constant):
        return [node.value]
    if isinstance(node, ast.JoinedStr):
        return ends_of(node.values[-1]) if node.values else [""]
    if isinstance(node, ast.IfExp):
        return ends_of(node.body) + ends_of(node.orelse)
    if isinstance(node, ast.BinOp):
        return ends_of(node.right)
    return []


def complaints(source):
    """What is wrong with the errors of a module, with the line."""
    for node in made_errors(ast.parse(source)):
        remedies = [word.value for word in node.keywords if word.arg == "remedy"]
        if len(node.args) != 1 or len(remedies) != 1:
            yield f"line {node.lineno}: one problem and one remedy= are wanted"
            continue
        for end in ends_of(node.args[0]):
            if not str(end).endswith("."):
                yield f"line {node.lineno}: the problem ends in {end!r}"
        for end in ends_of(remedies[0]):
            if not str(end).endswith((".", "?")):
                yield f"line {node.lineno}: the remedy ends in {end!r}"
        if isinstance(remedies[0], ast.Constant) and len(str(remedies[0].value)) < 3:
            yield f"line {node.lineno}: the remedy says nothing"


MODULES = sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize(
    "path", MODULES, ids=[str(path.relative_to(PACKAGE)) for path in MODULES]
)
def test_every_error_says_what_to_do(path):
    assert list(complaints(path.read_text(encoding="utf-8"))) == []


@pytest.mark.slow
def test_package_is_walked():
    """The test above would be content with an empty package."""
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in MODULES]
    made = [name_of(node.func) for tree in trees for node in made_errors(tree)]
    assert set(FAMILY) - set(made) == {"PrintPlanError"}
    assert len(made) > 100


@pytest.mark.parametrize(
    ("source", "count"),
    [
        ("raise SpecError('It is 3.', remedy='Give 2.')", 0),
        ("raise errors.SpecError(f'It is {n}.', remedy=f'Give {n}')", 0),
        ("raise type(error)(f'{place} {error.problem}', remedy=error.remedy)", 0),
        ("raise SpecError('It is 3.', remedy='Give 2.' if few else did_you_mean())", 0),
        ("raise SpecError('It is 3.', remedy='Did you mean 2?')", 0),
        ("raise SpecError('It is 3.')", 1),
        ("raise SpecError(remedy='Give 2.')", 1),
        ("raise errors.SpecError('It is 3.')", 1),
        ("error = type(error)('It is 3.')", 1),
        ("raise SpecError('It is 3.', remedy='')", 2),
        ("raise SpecError('It is 3.', remedy='.')", 1),
        ("raise SpecError('It is 3', remedy='Give 2.')", 1),
        ("raise SpecError(f'It is {n} mm', remedy='Give 2.')", 1),
        ("raise SpecError('It is 3.', remedy='Give 2')", 1),
        ("raise SpecError('It ' 'is 3', remedy='Give ' 'it')", 2),
        ("raise SpecError('It is 3.', remedy='Give 2.' if few else 'Give')", 1),
        ("raise SpecError('It' + ' is', remedy='Give 2.')", 1),
    ],
)
def test_wrong_error_would_be_found(source, count):
    assert len(list(complaints(source))) == count


NOT_OURS = {
    ("__init__.py", "AttributeError"),  # as Python wants it of a module
    ("checks/__init__.py", "AttributeError"),  # the same
    ("workbook/figures/__init__.py", "AttributeError"),  # the same
    ("child_work.py", "BudgetError"),  # told by who knows the file
    ("child_work.py", "RuntimeError"),  # a fault of ours, or no Python to start
    ("child_work.py", "found"),  # one of ours, from the child
    ("colour/conversion_steps.py", "ValueError"),  # a place that is called wrong
    ("foreign_file.py", "raises"),  # one of ours, which its caller names
    ("loops/memory.py", "MemoryError"),  # as numpy has it
    ("loops/machine_code.py", "RuntimeError"),  # a loop that is written wrong
    ("loops/machine_code.py", "TypeError"),  # a loop that is called wrong
    ("pixels/master_file.py", "ParseError"),  # as the parser has it of such a packet
    ("pixels/sealed_pixels.py", "DamagedError"),  # the copy is made anew
    ("pixels/sealed_pixels.py", "OSError"),  # a full disk; told by who knows the folder
    ("pixels/stored_rows.py", "ShortFileError"),  # told by who knows the file
    ("pixels/written_file.py", "UnsupportedOperation"),  # as a file without seeking
    ("record/ipp/timed_line.py", "TimeoutError"),  # as of a socket; told by `exchange`
    ("record/run/crew.py", "KeyboardInterrupt"),  # as the terminal would send it
    ("record/run/table.py", "_CellError"),  # told by who knows the row
    ("sizing/mat_fit.py", "refused"),  # one of ours
    ("workbook/panels/making.py", "_Cancelled"),  # between two of its own functions
    ("workbook/panels/sharpen.py", "_unmeasured"),  # a kept one of ours
    ("workbook/thumbnails.py", "made"),  # likewise
}


def raised(tree):
    """Names of all that is raised: of a class, or of the function that makes it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and node.exc is not None:
            made = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            if not is_type_of_another(made):
                yield name_of(made)


def makers(tree):
    """Functions that say they return an error of ours."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and name_of(node.returns) in FAMILY:
            yield node.name


@pytest.mark.slow
def test_nothing_else_is_raised():
    """What a user meets is an error of ours; all else would end in a traceback."""
    trees = {
        path.relative_to(PACKAGE).as_posix(): ast.parse(path.read_text("utf-8"))
        for path in MODULES
    }
    ours = set(FAMILY).union(*(makers(tree) for tree in trees.values()))
    found = {(path, name) for path, tree in trees.items() for name in raised(tree)}
    assert {(path, name) for path, name in found if name not in ours} <= NOT_OURS


@pytest.mark.parametrize("kind", FAMILY.values(), ids=FAMILY)
@pytest.mark.parametrize(
    "again",
    [lambda it: pickle.loads(pickle.dumps(it)), copy.copy, copy.deepcopy],  # noqa: S301 - our own
    ids=["pickle", "copy", "deepcopy"],
)
def test_error_keeps_its_remedy_on_the_way(kind, again):
    """A worker process hands its error over by pickling it."""
    error = again(kind("The sheet is 300 mm wide.", remedy="Choose 297 mm."))
    assert type(error) is kind
    assert error.problem == "The sheet is 300 mm wide."
    assert error.remedy == "Choose 297 mm."
    assert str(error) == "The sheet is 300 mm wide. Choose 297 mm."


@pytest.mark.parametrize("kind", FAMILY.values(), ids=FAMILY)
def test_error_without_a_remedy_cannot_be_made(kind):
    with pytest.raises(TypeError, match="remedy"):
        kind("The sheet is 300 mm wide.")


def test_wish_that_contradicts_itself_is_a_value_error():
    assert issubclass(FitError, SpecError)
    assert issubclass(SpecError, ValueError)


def is_words(kind):
    return isinstance(kind, type) and issubclass(kind, StrEnum) and kind is not StrEnum


CODE = re.compile(
    r"\b[a-z0-9]+_[a-z0-9_]+\b"  # a name in Python or a key of a file
    r"|=\s?(True|False)|\w+ = |\[\[?\w+\]"  # an argument, a line of a file
    r"|--[a-z]|\w+\(\)|`"  # an option, a call
)
LABEL = re.compile(r'(?:the|a) \w+ "([^"…]+)"|by "([^"…]+)"')
KEYS = {str(it) for kind in vars(spec).values() if is_words(kind) for it in kind}

BY_THEIR_OWN_WORDS = {
    # The command line, which says its options.
    "cli/add_printer.py",
    "cli/change_book.py",
    "cli/jobs.py",
    "workbook/launch.py",
    # A line of a file that a person typed.
    "record/toml_reading.py",
    "record/toml_writing.py",
    # Array functions, called in Python alone.
    "colour/black_point.py",
    "validation.py",
    "workbook/figures/colour.py",
}


def remedies(tree):
    """Every text of a remedy, with what names in it stand for in that module."""
    values = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                values.setdefault(name_of(target), []).append(node.value)
    for node in ast.walk(tree):
        for word in getattr(node, "keywords", ()):
            if word.arg in {"remedy", "if_exists"}:
                yield from texts(word.value, values)


def texts(node, values, depth=2):
    for part in ast.walk(node):
        if isinstance(part, ast.JoinedStr):
            told = (
                it.value if isinstance(it, ast.Constant) else "…" for it in part.values
            )
            yield "".join(told)
        elif isinstance(part, ast.Constant) and " " in str(part.value):
            yield part.value
        elif isinstance(part, ast.Name) and depth:
            for value in values.get(part.id, ()):
                yield from texts(value, values, depth - 1)


def shown_words():
    """What panels show: any text in them, and causes that the journal begins with."""
    for path in (PACKAGE / "workbook" / "panels").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield node.value
    yield "other"


def code_in(text, shown):
    """What in a remedy a person at a panel would not know."""
    found = CODE.search(text)
    quoted = [*KEYS & set(re.findall('"([^"]*)"', text))]
    quoted += ["".join(it) for it in LABEL.findall(text)]
    strange = {it for it in quoted if it not in shown}
    return found.group() if found else "".join(strange)


def test_remedies_hold_no_code():
    """They are read in panels, where a control has a label and no name in Python."""
    shown = set(shown_words())
    found = {
        (path.relative_to(PACKAGE).as_posix(), text)
        for path in MODULES
        for text in remedies(ast.parse(path.read_text(encoding="utf-8")))
        if code_in(text, shown)
    }
    assert {it for it in found if it[0] not in BY_THEIR_OWN_WORDS} == set()
    assert {path for path, _ in found} == BY_THEIR_OWN_WORDS  # no idle exception


@pytest.mark.parametrize(
    ("remedy", "found"),
    [
        ("Choose another name, or permit overwriting (overwrite=True).", "=True"),
        ("Set file_format to a TIFF.", "file_format"),
        ('Choose the format "tiff-8".', "tiff-8"),
        ("Add --overwrite.", "--o"),
        ("Set extent = sheet.", "extent = "),
        ("Open it with open().", "open()"),
        ('Choose the format "TIFF, 8 bits".', ""),
    ],
)
def test_code_in_a_remedy_would_be_found(remedy, found):
    assert code_in(remedy, set(shown_words())) == found


def test_each_reader_is_told_by_their_own_name():
    error = MasterError(
        "It carries no profile.", remedy="Assume one.", setting=Setting.ASSUME_PROFILE
    )
    assert str(error) == "It carries no profile. Assume one. In Python: assume_profile."
    assert remedy_words(error) == 'Assume one. On this page: "its colours are".'
    assert pickle.loads(pickle.dumps(error)).setting is Setting.ASSUME_PROFILE  # noqa: S301 - our own


def test_labels_in_remedies_are_those_of_controls():
    shown = set(shown_words())
    assert {label for label in CONTROLS.values() if label not in shown} == set()
