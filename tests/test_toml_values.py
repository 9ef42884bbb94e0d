import errno
import os
import tomllib
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

import pytest
import tomlkit
from hypothesis import example, given, settings
from hypothesis import strategies as st

from printplan.errors import RecordError, SpecError, did_you_mean
from printplan.record.atomic_write import FileHeader, read_text, write_text
from printplan.record.toml_reading import parse_text, value_from_table
from printplan.record.toml_writing import text_from_value, write_into

KIND = FileHeader(name="printplan test", version=3, heading="For tests.")
TEXT = 'format = "printplan test"\nformat_version = 3\n'


class Tone(StrEnum):
    WARM = "warm"
    COLD = "cold"


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    name: str
    width_mm: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tree:
    height_mm: float
    rings: int
    tone: Tone = Tone.WARM
    bent: bool = False
    girth_mm: float | None = None
    felled: date | None = None
    marks: tuple[float, ...] = ()
    words: tuple[str, ...] = ()
    best: Leaf = Leaf(name="best")
    leaf: tuple[Leaf, ...] = ()
    spare: Leaf | None = None

    def __post_init__(self):
        if self.rings < 0:
            raise SpecError(f"There are {self.rings} rings.", remedy="Count again.")


numbers = st.floats(allow_nan=False, allow_infinity=False)
leaves = st.builds(Leaf, name=st.text(), width_mm=numbers)
trees = st.builds(
    Tree,
    height_mm=numbers,
    rings=st.integers(0, 2**63 - 1),
    tone=st.sampled_from(Tone),
    bent=st.booleans(),
    girth_mm=st.none() | numbers,
    felled=st.none() | st.dates(),
    marks=st.lists(numbers, max_size=3).map(tuple),
    words=st.lists(st.text(), max_size=3).map(tuple),
    best=leaves,
    leaf=st.lists(leaves, max_size=3).map(tuple),
    spare=st.none() | leaves,
)


def read(text):
    return value_from_table(
        Tree, parse_text(TEXT + text, KIND, where="t.toml"), where="t"
    )


def table(**given):
    return value_from_table(
        Tree, {"height_mm": 1.0, "rings": 1} | given, where="t.toml"
    )


def text_of(tree, comments=None):
    return text_from_value(tree, KIND, comments or {})


@pytest.mark.slow
@settings(max_examples=100)
@given(trees)
@example(Tree(height_mm=-0.0, rings=0, marks=(5e-324, 1e16, 0.1 + 0.2)))
def test_any_value_comes_back_exactly(tree):
    text = text_of(tree)
    back = value_from_table(Tree, parse_text(text, KIND, where="t"), where="t")
    assert back == tree
    assert repr(back) == repr(tree)  # equality takes -0.0 for 0.0 and 1 for 1.0
    assert text_of(back) == text


@settings(max_examples=60)
@given(trees, trees)
def test_writing_into_a_table_makes_it_the_new_value(old, new):
    document = tomlkit.parse(text_of(old))
    write_into(document, new, {}, old=old)
    back = parse_text(document.as_string(), KIND, where="t")
    assert value_from_table(Tree, back, where="t") == new


def test_length_typed_in_inches_becomes_millimetres_when_it_changes():
    typed = (
        "rings = 1\nheight_in = 2 # tall\ngirth_in = 3 # round\n[best]\nname = 'a'\n"
    )
    document = tomlkit.parse(TEXT + typed)
    old = read(typed)
    write_into(document, replace(old, height_mm=7.0), {}, old=old)
    assert read(document.as_string().removeprefix(TEXT)) == replace(old, height_mm=7.0)
    assert "height_in" not in document
    assert "girth_in = 3 # round" in document.as_string()


def test_text_is_for_people():
    tree = Tree(height_mm=300.0, rings=2, leaf=(Leaf(name="a"), Leaf(name="b")))
    comments = {"height_mm": "above ground", "leaf": "in order", "leaf.width_mm": "mid"}
    assert text_of(tree, comments) == (
        "# For tests.\n"
        'format = "printplan test"\n'
        "format_version = 3\n"
        "\n"
        "height_mm = 300 # above ground\n"
        "rings = 2\n"
        'tone = "warm"\n'
        "bent = false\n"
        "marks = []\n"
        "words = []\n"
        "\n"
        "[best]\n"
        'name = "best"\n'
        "width_mm = 1\n"
        "\n"
        "[[leaf]] # in order\n"
        'name = "a"\n'
        "width_mm = 1 # mid\n"
        "\n"
        "[[leaf]]\n"
        'name = "b"\n'
        "width_mm = 1\n"
    )


GROVE = """\
height_mm = 1
rings = 1

# of spring
[[leaf]]
name = "a"
width_mm = 1 # thin
# still of a

# of summer
[[leaf]]
name = "b"

# of autumn
[[leaf]]
name = "b"
width_mm = 3

# below all
"""
A, B, B3, C = (
    Leaf(name="a"),
    Leaf(name="b"),
    Leaf(name="b", width_mm=3.0),
    Leaf(name="c", width_mm=2.0),
)


def cut(start, end=None):
    """The grove without the lines from one place to another."""
    return GROVE[: GROVE.index(start)] + (GROVE[GROVE.index(end) :] if end else "")


@pytest.mark.parametrize(
    ("leaves", "expected"),
    [
        ((A, B, B3), GROVE),
        (
            (A, B, B3, C),
            GROVE.replace(
                "\n# below", '\n[[leaf]]\nname = "c"\nwidth_mm = 2\n\n# below'
            ),
        ),
        (
            (A, replace(B, width_mm=3.5), B3),
            GROVE.replace('"b"\n', '"b"\nwidth_mm = 3.5\n', 1),
        ),
        ((A, B3), cut('[[leaf]]\nname = "b"\n\n', "\n# of autumn")),
        ((B, B3), cut("[[leaf]]", "\n# of summer")),
        ((A, B), cut('[[leaf]]\nname = "b"\nwidth', "\n# below")),
        (
            (B3,),
            cut("[[leaf]]", "\n# of summer").replace('[[leaf]]\nname = "b"\n\n', "\n"),
        ),
    ],
    ids=["same", "one more", "one changed", "second", "first", "last", "two"],
)
def test_list_that_changes_keeps_what_was_written_between(leaves, expected):
    """A comment below a blank line belongs to what follows it, and stays there."""
    old = read(GROVE)
    assert old.leaf == (A, B, B3)
    document = tomlkit.parse(TEXT + GROVE)
    write_into(document, replace(old, leaf=leaves), {}, old=old)
    assert document.as_string() == TEXT + expected


def test_half_a_character_is_refused():
    """A file name that is not text comes in as half of a character pair."""
    with pytest.raises(RecordError, match="another name"):
        text_of(Tree(height_mm=1, rings=1, words=("\udcff",)))


def test_whole_numbers_are_taken_for_lengths():
    tree = table(height_mm=3, marks=[1, 2.5])
    assert (tree.height_mm, tree.marks) == (3.0, (1.0, 2.5))
    assert isinstance(tree.height_mm, float)


def test_lengths_are_taken_in_inches():
    tree = value_from_table(
        Tree,
        {"height_in": 10, "girth_in": 0.5, "rings": 1, "leaf": [leaf_in(2)]},
        where="t.toml",
    )
    # By the international inch of exactly 25.4 mm.
    assert (tree.height_mm, tree.girth_mm) == (254.0, 12.7)
    assert tree.leaf[0].width_mm == 50.8


def leaf_in(width):
    return {"name": "a", "width_in": width}


def test_both_units_at_once_are_refused():
    with pytest.raises(RecordError, match=r"height_in and height_mm .* Keep one"):
        table(height_in=1)


def test_inches_beyond_measure_are_refused():
    with pytest.raises(RecordError, match="Give a number"):
        table(girth_in=1e308)


@pytest.mark.parametrize(
    ("given", "problem", "remedy"),
    [
        ({"height_mm": "3"}, 'height_mm is the text "3"', "Give a number"),
        ({"height_mm": True}, "height_mm is true", "Give a number"),
        ({"height_mm": float("nan")}, "height_mm is nan", "Give a number"),
        ({"height_mm": float("-inf")}, "height_mm is -inf", "Give a number"),
        ({"height_mm": 10**400}, "height_mm is 1000", "Give a number"),
        ({"height_mm": [1.0]}, "height_mm is a list", "Give a number"),
        ({"girth_mm": {}}, "girth_mm is a table", "Give a number"),
        ({"rings": 1.0}, "rings is 1.0", "Give a whole number"),
        ({"rings": False}, "rings is false", "Give a whole number"),
        ({"rings": 2**63}, "rings is 9223372036854775808", "Give a whole number"),
        ({"tone": 3}, "tone is 3", 'Give one of "warm", "cold"'),
        (
            {"tone": "wram"},
            'tone is the text "wram"',
            'Did you mean "warm"? Give one of',
        ),
        (
            {"tone": "WARM"},
            'tone is the text "WARM"',
            'Did you mean "warm"? Give one of',
        ),
        ({"bent": 1}, "bent is 1", "Give true or false"),
        ({"marks": 1.0}, "marks is 1.0", "Give a list"),
        ({"marks": [1.0, "a"]}, 'marks no. 2 is the text "a"', "Give a number"),
        ({"words": "a"}, 'words is the text "a"', "Give a list"),
        ({"words": [1]}, "words no. 1 is 1", "Give text in quotes"),
        ({"best": "a"}, 'best is the text "a"', "Give a table"),
        ({"best": {"name": 1}}, "[best] name is 1", "Give text in quotes"),
        ({"spare": {}}, "[spare] name is missing", "Add name (text in quotes)"),
        ({"leaf": {"name": "a"}}, "leaf is a table", "Give a list"),
        ({"leaf": ["a"]}, 'leaf no. 1 is the text "a"', "Give a table"),
        (
            {"leaf": [{"name": "a"}, {"name": "b", "widht_mm": 1}]},
            "[[leaf]] no. 2 widht_mm: there is no such key",
            "Did you mean width_mm?",
        ),
        ({"ringss": 1}, "ringss: there is no such key", "Did you mean rings?"),
        ({"brst": {}}, "[brst]: there is no such key", "Did you mean best?"),
        ({"Rings": 1}, "Rings: there is no such key", "Did you mean rings?"),
        ({"heigth_in": 1}, "heigth_in: there is no such key", "mean height_in?"),
        ({"qqq": 1}, "qqq: there is no such key", "Known here: height_mm, rings, "),
        ({"rings": -1}, "There are -1 rings.", "Count again."),
    ],
)
def test_what_is_wrong_is_named_with_its_place(given, problem, remedy):
    with pytest.raises((RecordError, SpecError)) as caught:
        table(**given)
    assert caught.value.problem.startswith("t.toml: ")
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


def test_refusal_by_the_value_itself_keeps_its_kind():
    with pytest.raises(SpecError, match=r"t.toml: There are -2 rings. Count again."):
        table(rings=-2)


def test_all_missing_keys_are_named():
    with pytest.raises(RecordError) as caught:
        value_from_table(Tree, {}, where="t.toml")
    assert caught.value.problem == "t.toml: height_mm and rings are missing."
    assert "height_mm (a number, such as 12.5) and rings" in caught.value.remedy


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("rings = \n", 3),
        ("rings = 1\nheight_mm == 3\n", 4),
        ("rings = 1\nrings = 2\n", 4),
        ('words = ["a"', 3),
        ("[best]\n[best]\n", 4),
    ],
)
def test_text_that_is_not_toml_names_the_line(text, line):
    with pytest.raises(RecordError, match=f"t.toml, line {line}: .*Correct that line"):
        read(text)


@pytest.mark.parametrize("text", [f"a = {'[' * 5000}", f"a = {'1' * 5000}"])
def test_text_beyond_all_measure_is_refused(text):
    with pytest.raises(RecordError, match="beyond all measure"):
        read(text)


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("", "begins with format"),
        ("format = 3\nformat_version = 1", "begins with format"),
        ('format = "printplan tset"\nformat_version = 1', "begins with format"),
        ('format = "printplan test"', "Write format_version = 3"),
        (
            'format = "printplan test"\nformat_version = true',
            "Write format_version = 3",
        ),
        ('format = "printplan test"\nformat_version = 0', "Write format_version = 3"),
        ('format = "printplan test"\nformat_version = "3"', "Write format_version = 3"),
        ('format = "printplan test"\nformat_version = 4', "Open it with a newer"),
    ],
)
def test_header_must_be_understood(text, remedy):
    with pytest.raises(RecordError, match=remedy):
        parse_text(text, KIND, where="t.toml")


def test_older_version_is_read():
    assert parse_text(TEXT.replace("3", "1"), KIND, where="t") == {}


def test_nearest_name_names_all_that_are_as_near():
    assert did_you_mean("mat", ["matt", "math", "gloss"], mark="") == (
        "Did you mean matt or math?"
    )
    assert did_you_mean("x", [], mark="") == "Known here: none."


def test_length_without_its_unit_is_offered_in_millimetres():
    assert did_you_mean("width_", ["width_mm", "width_in"]) == (
        'Did you mean "width_mm"?'
    )
    assert did_you_mean("q", ["width_mm", "width_in"]) == 'Known here: "width_mm".'


def test_file_is_written_and_read(tmp_path):
    path = tmp_path / "é.toml"
    assert write_text("é = 1\r\n", path, KIND)
    assert read_text(path) == "é = 1\r\n"
    assert [it.name for it in tmp_path.iterdir()] == ["é.toml"]


def test_file_is_never_replaced_unasked(tmp_path):
    path = tmp_path / "t.toml"
    write_text(TEXT, path, KIND)
    with pytest.raises(RecordError, match=r"another name\. In Python: overwrite=True"):
        write_text("new", path, KIND)
    assert path.read_text() == TEXT
    write_text(TEXT + "# new", path, KIND, overwrite=True)
    assert path.read_text() == TEXT + "# new"
    assert len(list(tmp_path.iterdir())) == 1


def test_file_of_another_kind_is_never_replaced(tmp_path):
    """A master named by mistake is not written over, whatever is permitted."""
    path = tmp_path / "master.tif"
    path.write_bytes(b"II*\0")
    with pytest.raises(RecordError, match="not a printplan test"):
        write_text(TEXT, path, KIND, overwrite=True)
    assert path.read_bytes() == b"II*\0"
    assert len(list(tmp_path.iterdir())) == 1


def test_replaced_file_keeps_its_permissions(tmp_path):
    path = tmp_path / "t.toml"
    write_text(TEXT, path, KIND)
    path.chmod(0o640)
    write_text(TEXT, path, KIND, overwrite=True)
    assert path.stat().st_mode & 0o777 == 0o640


def test_link_to_a_file_stays_a_link(tmp_path):
    path, link = tmp_path / "t.toml", tmp_path / "link.toml"
    write_text(TEXT, path, KIND)
    link.symlink_to(path)
    write_text(TEXT + "# new", link, KIND, overwrite=True)
    assert link.is_symlink()
    assert path.read_text() == TEXT + "# new"


@pytest.mark.parametrize("overwrite", [False, True])
def test_interrupted_writing_leaves_nothing(tmp_path, monkeypatch, overwrite):
    def full_disk(_handle):
        raise OSError(28, "No space left on device")

    path = tmp_path / "t.toml"
    if overwrite:
        path.write_text(TEXT)
    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(RecordError, match="No space left"):
        write_text(TEXT + "# new", path, KIND, overwrite=overwrite)
    assert [it.read_text() for it in tmp_path.iterdir()] == [TEXT] * overwrite


def test_disk_without_second_names_is_written_too(tmp_path, monkeypatch):
    def no_links(_source, _target):
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", no_links)
    path = tmp_path / "t.toml"
    write_text(TEXT, path, KIND)
    with pytest.raises(RecordError, match=r"another name\. In Python: overwrite=True"):
        write_text("new", path, KIND)
    assert path.read_text() == TEXT
    assert len(list(tmp_path.iterdir())) == 1


def test_writing_that_is_no_longer_permitted_changes_nothing(tmp_path):
    path = tmp_path / "t.toml"
    assert not write_text(TEXT, path, KIND, permitted=lambda: False)
    assert list(tmp_path.iterdir()) == []


def test_missing_folder_is_named(tmp_path):
    with pytest.raises(RecordError, match="Choose a folder that exists"):
        write_text(TEXT, tmp_path / "none" / "t.toml", KIND)


@pytest.mark.parametrize(
    "other",
    [
        b'# what "printplan test" means\n[[my notes',
        b"quoted = '\"printplan test\"'\n",
        b'[table]\nformat = "printplan test"\n',
        b"\xff\xfe",
    ],
)
def test_file_that_only_speaks_of_ours_is_never_replaced(tmp_path, other):
    path = tmp_path / "notes.toml"
    path.write_bytes(other)
    with pytest.raises(RecordError, match="move that file away yourself"):
        write_text(TEXT, path, KIND, overwrite=True)
    assert path.read_bytes() == other


@pytest.mark.parametrize(
    ("data", "remedy"),
    [
        (b"a = '\xff'", "save it again as UTF-8"),
        (b"#" * 16_000_001, "Check that it is the file that was meant"),
        (b"", "Copy or export it again"),
    ],
)
def test_file_that_is_not_ours_is_refused(tmp_path, data, remedy):
    path = tmp_path / "t.toml"
    path.write_bytes(data)
    with pytest.raises(RecordError, match=remedy):
        read_text(path)


@pytest.mark.parametrize(
    ("name", "remedy"),
    [
        ("none.toml", "Check its name and folder"),
        (".", "Name the file inside it"),
        ("nul\0.toml", "Give a shorter or plainer name"),
        ("n" * 300, "Give a shorter or plainer name"),
        ("/dev/zero", "Copy what it gives into a file"),
    ],
)
def test_file_that_cannot_be_read_is_named(tmp_path, name, remedy):
    with pytest.raises(RecordError, match=remedy):
        read_text(tmp_path / name)


@pytest.mark.parametrize(
    ("name", "remedy"),
    [
        ("nul\0.toml", "Give a shorter or plainer name"),
        ("n" * 300, "Choose a usual file name"),
        ("ring", "Give the file's own name|Choose another name"),
    ],
)
@pytest.mark.parametrize("overwrite", [False, True])
def test_name_that_cannot_be_written_is_told(tmp_path, name, remedy, overwrite):
    (tmp_path / "ring").symlink_to(tmp_path / "ring")
    with pytest.raises(RecordError, match=remedy):
        write_text(TEXT, tmp_path / name, KIND, overwrite=overwrite)
    assert [it.name for it in tmp_path.iterdir()] == ["ring"]


@pytest.mark.parametrize(
    ("number", "remedy"),
    [
        (errno.ENOSPC, "Free space on that disk"),
        (errno.EDQUOT, "Free space on that disk"),
        (errno.EACCES, "a folder that you may write to"),
        (errno.EROFS, "a folder that you may write to"),
        (errno.ENOENT, "a folder that exists"),
        (errno.EIO, "Check the disk"),
    ],
)
def test_remedy_is_for_what_the_disk_said(tmp_path, monkeypatch, number, remedy):
    """A full disk is no matter of the folder."""

    def refuses(_handle):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", refuses)
    with pytest.raises(RecordError, match=remedy) as refused:
        write_text(TEXT, tmp_path / "t.toml", KIND)
    assert ("exists" in refused.value.remedy) == (number == errno.ENOENT)


def test_mark_of_an_editor_at_the_beginning_is_taken(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text(TEXT, encoding="utf-8-sig")
    assert tomllib.loads(read_text(path))["format_version"] == 3
