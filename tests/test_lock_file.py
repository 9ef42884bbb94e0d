"""A lock says who holds it: the dead are followed at once, the living waited for."""

import logging
import os
import shutil
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from time import monotonic, sleep

import pytest

from printplan.errors import RecordError
from printplan.own_process import this_process
from printplan.record import lock_file
from printplan.record.lock_file import (
    is_dead_lock,
    lock_path,
    locked,
    take_dead_lock_away,
)
from printplan.record.paper_book import read_paper_book
from printplan.workbook.day_page.waiting import WaitingWords

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Whether a process runs is not told there."
)

KEPT = Path(__file__).parent / "data" / "kept"

HOLDER = """
import sys
from pathlib import Path
from printplan.record.lock_file import locked
with locked(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def book(tmp_path):
    return tmp_path / "papers.toml"


@pytest.fixture
def holder(book):
    """Another process that holds the lock."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(book)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as process:
        assert process.stdout.readline() == b"held\n"
        yield process
        process.kill()


def test_lock_says_who_holds_it_and_goes(book):
    with locked(book) as is_held:
        assert is_held()
        assert str(this_process()) in lock_path(book).read_text()
        assert not is_dead_lock(lock_path(book))
    assert list(book.parent.iterdir()) == []


def test_lock_of_a_killed_process_is_taken_at_once(book, holder):
    holder.send_signal(signal.SIGKILL)
    holder.wait()
    assert is_dead_lock(lock_path(book))
    began_s = monotonic()
    with locked(book) as is_held:
        assert is_held()
    # Before, such a lock cost 10 s; half a second is far above one look at a file.
    assert monotonic() - began_s < lock_file.TOLD_S


def test_living_holder_is_named_and_never_robbed(book, holder, monkeypatch, caplog):
    monkeypatch.setattr(lock_file, "STALE_S", 0.05)
    monkeypatch.setattr(lock_file, "TOLD_S", 0.1)
    monkeypatch.setattr(lock_file, "PATIENCE_S", 0.4)
    held = lock_path(book).read_bytes()
    refused = pytest.raises(RecordError, match=f"held by process {holder.pid} on ")
    with refused, locked(book):
        pass
    (told,) = caplog.messages
    name = f"process {holder.pid}"
    assert told.startswith(f"Waiting for .papers.toml.lock, held by {name} on ")
    assert lock_path(book).read_bytes() == held
    assert not take_dead_lock_away(lock_path(book))


def test_end_of_the_wait_is_told_too(book, holder, monkeypatch, caplog):
    monkeypatch.setattr(lock_file, "TOLD_S", 0.05)
    caplog.set_level(logging.INFO, "printplan.waiting")
    waited = lock_file._POLL_S

    def end_it(_):
        if caplog.messages:
            holder.stdin.close()
        sleep(waited)

    monkeypatch.setattr(lock_file, "sleep", end_it)
    with locked(book):
        assert [bool(it) for it in caplog.messages] == [True, False]


def test_lock_of_another_computer_is_followed_when_it_rests(book, monkeypatch):
    monkeypatch.setattr(lock_file, "STALE_S", 0.2)
    other = replace(this_process(), host="00000000", process=1)
    lock_path(book).write_text(f"printplan lock {other} far-away\n")
    began_s = monotonic()
    with locked(book):
        assert monotonic() - began_s > 0.2


@pytest.mark.parametrize("content", [b"", b"mine", b"\xff" * 5000])
def test_file_that_is_no_lock_of_ours_is_never_tidied_away(book, content):
    lock_path(book).write_bytes(content)
    assert not take_dead_lock_away(lock_path(book))
    assert lock_path(book).read_bytes() == content


def test_later_lock_of_that_name_is_not_taken_for_the_dead_one(book):
    """Two see a dead lock; the slower finds the lock that the quicker made."""
    dead = replace(this_process(), started="1xffffffff")
    lock = lock_path(book)
    lock.write_text(f"printplan lock {dead} here\n")
    seen = lock_file._lock_at(lock)
    with locked(book) as is_held:
        lock_file._take_away(lock, seen)
        assert is_held()


WRITER = """
import os, sys
from pathlib import Path
from printplan.record.lock_file import locked
path, go = Path(sys.argv[1]), Path(sys.argv[2])
while not go.exists():
    pass
for _ in range(int(sys.argv[3])):
    with locked(path):
        number = int(path.read_text())
        path.write_text(str(number + 1))
"""


@pytest.mark.slow
def test_nothing_is_lost_when_several_follow_a_dead_holder(tmp_path):
    """Three count together, each begin with a lock whose process has ended."""
    dead = replace(this_process(), started="1xffffffff")
    for turn in range(5):
        path, go = tmp_path / f"count-{turn}", tmp_path / f"go-{turn}"
        path.write_text("0")
        lock_path(path).write_text(f"printplan lock {dead} here\n")
        writers = [
            subprocess.Popen([sys.executable, "-c", WRITER, path, go, "20"])
            for _ in range(3)
        ]
        sleep(0.3)
        go.touch()
        assert [it.wait(timeout=60) for it in writers] == [0, 0, 0]
        assert path.read_text() == "60"
    assert os.listdir(tmp_path).count(".count-0.lock") == 0  # noqa: PTH208


@pytest.mark.slow
def test_page_says_what_it_waits_for_and_falls_silent(book, holder, monkeypatch):
    """The words of the day's page, while a lock of another process is waited for."""
    words = WaitingWords()
    later = WaitingWords()
    monkeypatch.setattr(lock_file, "TOLD_S", 0.05)
    seen = []

    def end_it(_):
        seen.append(later.place.value)
        if seen[-1]:
            holder.stdin.close()
        sleep(lock_file._POLL_S)

    monkeypatch.setattr(lock_file, "sleep", end_it)
    with locked(book):
        assert f"held by process {holder.pid} on" in seen[-1]
        assert later.place.value == words.place.value == ""


@pytest.mark.slow
def test_command_says_in_one_line_what_it_waits_for(tmp_path):
    """In a terminal; the command goes on when the other has ended."""
    book = tmp_path / "papers.toml"
    shutil.copy(KEPT / "paper-book.toml", book)
    change = ["change", "printer", "Studio 24", "--out-of-use", "--book", str(book)]
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(book)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as held:
        held.stdout.readline()
        with subprocess.Popen(
            [sys.executable, "-c", "import printplan.cli as c; c.main()", *change],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as waiting:
            line = waiting.stderr.readline()
            held.stdin.close()
            rest = waiting.stderr.read()
    assert line.startswith("Waiting for .papers.toml.lock, held by process")
    assert (waiting.returncode, rest) == (0, "")
    assert not read_paper_book(book).printers[0].in_use
