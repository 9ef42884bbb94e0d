"""What ended processes left goes at the next start, and nothing else does."""

import os
import subprocess
import sys
import tempfile
from dataclasses import replace

import pytest
from click.testing import CliRunner

from printplan.cli import cli
from printplan.free_name import part_path
from printplan.own_folders import passing_folder
from printplan.own_process import ABANDONED_S, maker_in, this_process
from printplan.record.leftovers import LeftKind, leftovers_in, tidy
from printplan.record.lock_file import lock_path
from printplan.workbook.day_page.day_page import DayPage

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Whether a process runs is not told there."
)

DEAD = replace(this_process(), started="1xffffffff")
ELSEWHERE = replace(this_process(), host="00000000")
RANDOM = "0123456789abcdef"


def part(folder, maker, ending=".part"):
    path = folder / f".printplan-{maker}-{RANDOM}{ending}"
    path.write_bytes(b"half")
    return path


def lock(folder, maker):
    path = lock_path(folder / "papers.toml")
    path.write_text(f"printplan lock {maker} here\n")
    return path


def test_parts_and_locks_of_the_dead_go(tmp_path):
    gone = {part(tmp_path, DEAD), part(tmp_path, DEAD, ".part-journal")}
    gone.add(lock(tmp_path, DEAD))
    found = leftovers_in(tmp_path)
    assert {it.path for it in found} == gone
    assert [it.kind for it in found].count(LeftKind.LOCK) == 1
    assert sum(it.bytes_held for it in found if it.kind is LeftKind.PART) == 8
    assert set(tidy([tmp_path, tmp_path])) == set(found)
    assert list(tmp_path.iterdir()) == []


def test_parts_and_locks_of_the_living_stay(tmp_path):
    part(tmp_path, this_process())
    lock(tmp_path, this_process())
    assert tidy([tmp_path]) == ()
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize("maker", [ELSEWHERE, "old"], ids=["elsewhere", "unsaid"])
def test_what_nobody_can_say_goes_by_age(tmp_path, maker):
    """A part of another computer, and one of a version that wrote no process."""
    path = (
        part(tmp_path, maker)
        if maker != "old"
        else part(tmp_path, "").rename(tmp_path / f".printplan-{RANDOM}.part")
    )
    assert tidy([tmp_path]) == ()
    old = path.stat().st_mtime - ABANDONED_S - 60
    os.utime(path, (old, old))
    assert [it.path for it in tidy([tmp_path])] == [path]


@pytest.mark.parametrize(
    "name",
    [
        ".printplan-mine.part",
        ".printplan-last-job",
        "printplan-DEAD.part",
        ".printplan-DEAD.part.tif",
        ".printplan-DEAD.PART",
        ".papers.toml.lock",
        ".~lock.notes.odt#",
        "print.tif",
    ],
)
def test_what_is_not_named_by_us_stays(tmp_path, name):
    path = tmp_path / name.replace("DEAD", f"{DEAD}-{RANDOM}")
    path.write_bytes(b"theirs")
    os.utime(path, (1, 1))
    assert tidy([tmp_path]) == ()
    assert path.read_bytes() == b"theirs"


def test_folder_of_a_parts_name_stays(tmp_path):
    path = tmp_path / f".printplan-{DEAD}-{RANDOM}.part"
    path.mkdir()
    tidy([tmp_path, tmp_path / "none", tmp_path / "nul\0"])
    assert path.is_dir()


def test_part_of_a_killed_writer_goes(tmp_path):
    """What a killed process leaves is what the next one knows."""
    script = (
        "import os, sys; from pathlib import Path; "
        "from printplan.record.atomic_write import part_beside\n"
        "with part_beside(Path(sys.argv[1]), if_exists='No.') as part:\n"
        "    part.touch(); print(part.name, flush=True); os.kill(os.getpid(), 9)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, tmp_path / "a.toml"],
        capture_output=True,
        text=True,
        check=False,
    )
    (left,) = tmp_path.iterdir()
    assert (left.name, done.returncode) == (done.stdout.strip(), -9)
    assert maker_in(left.name) != this_process()
    assert maker_in(part_path(left).name) == this_process()
    assert [it.path for it in tidy([tmp_path])] == [left]
    assert list(tmp_path.iterdir()) == []


def test_passing_folders_of_the_dead_go_and_no_others(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    dead = tmp_path / f"printplan-{DEAD}-abc"
    (dead / "deep").mkdir(parents=True)
    (dead / "deep" / "page.pdf").write_bytes(b"page")
    kept = [
        tmp_path / f"printplan-{this_process()}-abc",
        tmp_path / f"printplan-{ELSEWHERE}-abc",
        tmp_path / "printplan-mine",
        tmp_path / "theirs",
    ]
    for path in kept:
        path.mkdir()
    link = tmp_path / f"printplan-{DEAD}-link"
    link.symlink_to(tmp_path / "theirs")
    with passing_folder("x-") as folder:
        assert str(this_process()) in folder
        assert not dead.exists()
        assert link.is_symlink()
        assert all(it.is_dir() for it in kept)
    assert sorted(tmp_path.iterdir()) == sorted([*kept, link])


@pytest.mark.slow
def test_page_and_command_tidy_where_they_work(tmp_path):
    """The day's page all folders of its studio; a command those of its files."""
    deep = tmp_path / "jobs" / "spring"
    deep.mkdir(parents=True)
    elsewhere = tmp_path / "letters"
    elsewhere.mkdir()
    stays = part(elsewhere, DEAD)
    for folder in (tmp_path, deep):
        part(folder, DEAD)
        lock(folder, DEAD)
    CliRunner().invoke(cli, ["check", str(deep / "none.toml")])
    assert list(deep.iterdir()) == []
    assert len(leftovers_in(tmp_path)) == 2
    part(deep, DEAD)
    DayPage(tmp_path)
    assert leftovers_in(tmp_path) == leftovers_in(deep) == ()
    assert stays.exists()
