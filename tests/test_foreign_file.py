"""A file that is opened is a regular one, of bounded size, under a name that can be."""

import ast
import os
import re
import socket
import sys
from pathlib import Path
from time import monotonic

import pytest

import printplan
from printplan.errors import MasterError, ProfileError
from printplan.foreign_file import (
    faults_named,
    named,
    open_foreign,
    read_foreign,
    read_when_changed,
    state_of,
)

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Pipes and devices have other names there."
)


def read(path, most_bytes=1000):
    return read_foreign(
        path, raises=ProfileError, what="The profile", most_bytes=most_bytes
    )


def refusal(path):
    began_s = monotonic()
    with pytest.raises(ProfileError) as refused:
        read(path)
    assert monotonic() - began_s < 1
    assert refused.value.remedy
    return refused.value.problem


def test_whole_content_is_read(tmp_path):
    (tmp_path / "a").write_bytes(b"1234")
    assert read(tmp_path / "a") == b"1234"
    assert read(str(tmp_path / "a"), most_bytes=4) == b"1234"


def test_what_is_missing_empty_or_long_is_refused(tmp_path):
    assert refusal(tmp_path / "a") == f"There is no file {tmp_path / 'a'}."
    (tmp_path / "a").touch()
    assert refusal(tmp_path / "a").endswith("is empty.")
    (tmp_path / "a").write_bytes(bytes(1001))
    assert refusal(tmp_path / "a").endswith("is longer than 0.001 MB.")
    assert refusal(tmp_path / "a" / "b").startswith("The profile ")


def test_what_is_no_regular_file_is_refused_at_once(tmp_path):
    assert refusal(tmp_path) == f"{tmp_path} is a folder."
    assert (
        refusal("/dev/zero")
        == "The profile /dev/zero is a device, not a file on a disk."
    )
    os.mkfifo(tmp_path / "pipe")
    assert "is a pipe" in refusal(tmp_path / "pipe")
    (tmp_path / "link").symlink_to(tmp_path / "pipe")
    assert "is a pipe" in refusal(tmp_path / "link")
    (tmp_path / "ring").symlink_to(tmp_path / "ring")
    assert "cannot be read" in refusal(tmp_path / "ring")
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "socket"))
        assert "is a socket" in refusal(tmp_path / "socket")


@pytest.mark.parametrize(
    "name", ["a\0b", "n" * 256, "d/" * 3000 + "a"], ids=["zero byte", "name", "path"]
)
def test_names_that_no_file_can_have_are_refused(tmp_path, name):
    problem = refusal(f"{tmp_path}/{name}")
    assert "cannot be found by that name" in problem
    assert len(problem) < 500
    assert "\0" not in problem


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything"
)
def test_a_file_that_may_not_be_read_is_told(tmp_path):
    (tmp_path / "a").write_bytes(b"1")
    (tmp_path / "a").chmod(0)
    assert "may not be read" in refusal(tmp_path / "a")


def test_a_name_that_is_no_text_is_read_and_shown_with_escapes(tmp_path):
    odd = os.fsdecode(os.fsencode(tmp_path) + b"/\xff\x1b[31m\xe2\x80\xae")
    Path(odd).write_bytes(b"1")
    assert read(odd) == b"1"
    shown = named(odd)
    assert shown == f"{tmp_path}/\\udcff\\x1b[31m\\u202e"
    shown.encode()


def test_a_stream_that_fails_is_told_in_the_kind_asked_for(tmp_path):
    (tmp_path / "a").write_bytes(b"1")
    with open_foreign(tmp_path / "a", raises=MasterError) as stream:
        assert stream.read() == b"1"
    told = pytest.raises(MasterError, match=r"The file a cannot be read \(disk away\)")
    with told, faults_named("a", raises=MasterError):
        raise OSError(5, "disk away")


def test_faults_that_are_no_names_stay_what_they_are():
    with pytest.raises(ValueError, match="else"), faults_named("a", raises=MasterError):
        raise ValueError("else")


OPENS = re.compile(
    r"\.read_bytes\(|\.read_text\(|\.open\([\"']r|(?<![\w.])(?<!def )open\("
    r"|\bos\.open\(|\bmemmap\b|\bnp\.(load|fromfile|genfromtxt)\(|\bImage\.open\("
    r"|\bsqlite3\.connect\("
)
OWN = {
    "child_work.py": "what the system tells of this process",
    "demo": "the demo's own, out of this package",
    "foreign_file.py": "the one way",
    "loops/kept_code.py": "code of ours: who owns it is asked, its hash compared",
    "own_folders.py": "files of ours, which are not followed through links",
    "own_process.py": "what the system tells of a process",
    "pixels/file_formats.py": "a print, just written and still without its name",
    "pixels/own_files.py": "a list of ours, to add to it",
    "pixels/pdf_page.py": "a print, as above",
    "pixels/render.py": "the same",
    "pixels/kept_measures.py": "the text of this package",
    "pixels/sealed_pixels.py": "a copy of ours, just made, in the child",
    "record/backup.py": "copies of ours, just made",
    "record/decision_sheet/write.py": "a template, out of this package",
    "record/journal/file.py": "after it was looked at in the one way",
    "record/journal/schema.py": "nothing but memory",
    "record/lock_file.py": "a lock, of which nothing is read",
    "workbook/launch.py": "notebooks, out of this package",
    "workbook/loupe/loupe.py": "scripts, out of this package",
    "workbook/own_page.py": "a notebook, out of this package",
    "workbook/panels/controls.py": "a style sheet, out of this package",
}
PACKAGE = Path(printplan.__file__).parent


def places():
    """Where the package reads a file in another way than the one."""
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        text = re.sub(r"^ *(>>>|#).*$", "", path.read_text("utf-8"), flags=re.MULTILINE)
        for line in text.splitlines():
            if OPENS.search(line):
                yield name, line.strip()


@pytest.mark.parametrize("name", ["missing", "a/b", "x" * 300, "zero\0byte"])
def test_what_cannot_be_asked_has_no_state(tmp_path, name):
    (tmp_path / "a").write_bytes(b"1234")
    assert state_of(tmp_path / name) is None
    assert state_of(str(tmp_path / "a")) == state_of(tmp_path / "a") is not None


def test_what_was_read_is_kept_until_the_file_is_another(tmp_path, monkeypatch):
    paths = []

    @read_when_changed(4)
    def text_of(path):
        paths.append(path)
        return read(path).decode()

    monkeypatch.chdir(tmp_path)
    Path("a").write_text("one", "utf-8")
    assert [text_of("a"), text_of("a")] == ["one", "one"]
    assert paths == ["a"]
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "a").write_text("two", "utf-8")
    monkeypatch.chdir(tmp_path / "below")
    assert text_of("a") == "two"
    Path("a").unlink()
    for _ in range(2):
        with pytest.raises(ProfileError, match="There is no file"):
            text_of("a")
    assert len(paths) == 4


def test_no_other_module_opens_a_file_of_others():
    others = [
        (name, line)
        for name, line in places()
        if name not in OWN and name.partition("/")[0] not in OWN
    ]
    assert others == []


DECODE = {"describe", "decoded_pixels", "tiff_bands", "png_bands", "jpeg_bands"}
DECODE |= {"TiffFile", "JpegImageFile"}


def imported(path):
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom):
            yield from (it.name for it in node.names)


def test_faces_and_records_let_the_child_decode():
    """`described`, `decoded` and `few_pixels` do so; below them is the child's work."""
    beside = [
        (path.relative_to(PACKAGE).as_posix(), name)
        for floor in ("cli", "workbook", "record", "checks")
        for path in sorted((PACKAGE / floor).rglob("*.py"))
        for name in sorted(DECODE.intersection(imported(path)))
    ]
    assert beside == []
