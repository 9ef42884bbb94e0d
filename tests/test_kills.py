"""Whatever is killed, and when: nothing is lost, half there, or left behind."""

import shutil
import sys
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("Processes are not forked there.", allow_module_level=True)

sys.path.insert(0, str(Path(__file__).parent / "fuzz"))
import kills

pytestmark = pytest.mark.slow
QUICK = ("margin page", "add printer", "change", "page")


def test_killed_commands_lose_and_leave_nothing():
    """The quick ones; all of them, and 300 kills: python tests/fuzz/kills.py."""
    wrong, counts = kills.campaign(8, seed=7, only=QUICK)
    assert wrong == []
    assert sum(it["killed"] for it in counts.values()) >= 2


def test_judge_finds_what_is_lost_or_half_there(tmp_path):
    """A folder in which things went wrong, each of which must be found."""
    before_folder, after_folder = tmp_path / "before", tmp_path / "after"
    for folder in (before_folder, after_folder):
        folder.mkdir()
        (folder / "book.toml").write_text("a = 1\n")
    (after_folder / "print.tif").write_bytes(b"the whole print")
    (after_folder / "print.tif.record.toml").write_text("whole")
    before, after = kills.files_in(before_folder), kills.files_in(after_folder)

    def found(name, data):
        folder = tmp_path / "now"
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(before_folder, folder)
        if data is None:
            (folder / name).unlink()
        else:
            (folder / name).write_bytes(data)
        return list(kills.wrong_with(folder, before, after))

    assert found("print.tif", b"the whole print") == []
    assert found("print.tif", b"the whole") == ["print.tif is not whole"]
    assert found("print.tif.record.toml", b"half [") != []
    assert found("other.tif", b"x") == ["other.tif is no file that the command makes"]
    assert found("book.toml", b"a =") == ["book.toml is neither as before nor as after"]
    assert found("book.toml", None) == ["book.toml is lost"]


def test_judge_finds_what_was_left(tmp_path):
    folder = tmp_path / "studio"
    folder.mkdir()
    (folder / ".printplan-00000000-1-1x0-0123456789abcdef.part").touch()
    (folder / ".book.toml.lock").touch()
    assert len(list(kills.left_in(folder))) == 2
