"""A file says which process made it, and whether that one still runs can be asked."""

import os
import subprocess
import sys
from dataclasses import replace

import pytest

from printplan import own_process
from printplan.free_name import PART_NAME, part_path
from printplan.own_process import (
    ABANDONED_S,
    Maker,
    is_alive,
    is_left_behind,
    maker_in,
    this_process,
)

TELLS_STARTS = os.path.exists("/proc/self/stat")  # noqa: PTH110 - of this system
needs_starts = pytest.mark.skipif(not TELLS_STARTS, reason="No /proc here.")
posix = pytest.mark.skipif(sys.platform == "win32", reason="It does not tell there.")


@pytest.fixture
def child():
    """A process of its own, and who it says it is."""
    script = (
        "from printplan.own_process import this_process; import sys; "
        "print(this_process(), flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        yield process, maker_in(process.stdout.readline())


def test_this_process_runs():
    assert is_alive(this_process())
    assert this_process().process == os.getpid()


@posix
def test_process_is_alive_until_it_ends(child):
    process, maker = child
    assert maker.process == process.pid
    assert is_alive(maker)
    assert not is_left_behind(maker, age_s=10 * ABANDONED_S)
    process.kill()
    process.wait()
    assert is_alive(maker) is False
    assert is_left_behind(maker, age_s=0)


@needs_starts
def test_killed_process_that_nobody_asked_after_runs_no_more(child):
    process, maker = child
    process.kill()
    os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOWAIT)
    assert is_alive(maker) is False


@needs_starts
def test_later_process_of_the_same_number_is_another(child):
    """Numbers are given again; when it began tells the two apart."""
    _, maker = child
    assert is_alive(replace(maker, started="1xffffffff")) is False
    assert is_alive(replace(this_process(), started="1xffffffff")) is False


@needs_starts
def test_start_is_the_one_that_the_system_tells(child):
    """proc_pid_stat(5): field 22 of the line; the name of this one has no space."""
    _, maker = child
    with open(f"/proc/{maker.process}/stat", encoding="ascii") as file:  # noqa: PTH123
        ticks = file.read().split()[21]
    assert int(maker.started.split("x")[0], 16) == int(ticks)


def test_process_of_another_computer_is_judged_by_age_alone():
    other = replace(this_process(), host="00000000")
    assert is_alive(other) is None
    assert not is_left_behind(other, age_s=ABANDONED_S - 1)
    assert is_left_behind(other, age_s=ABANDONED_S + 1)
    assert not is_left_behind(None, age_s=ABANDONED_S - 1)


def test_number_beyond_all_processes_is_no_process():
    assert not is_alive(replace(this_process(), process=10**30))


def test_name_of_a_part_tells_its_maker(tmp_path):
    part = part_path(tmp_path / "print.tif")
    assert part.parent == tmp_path
    assert PART_NAME.fullmatch(part.name)
    assert maker_in(part.name) == this_process()
    assert part_path(tmp_path / "print.tif") != part


def test_maker_without_a_start_is_believed(monkeypatch):
    monkeypatch.setattr(own_process, "_started", lambda _: "0")
    mine = this_process()
    assert (
        maker_in(str(mine))
        == mine
        == Maker(host=mine.host, process=os.getpid(), started="0")
    )
    assert is_alive(mine)
