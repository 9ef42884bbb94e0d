"""What is done in a child ends in time, or ends the child; the caller lives on."""

import os
import signal
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from time import monotonic, sleep

import pytest

from printplan import child_work
from printplan.child_work import Budget, BudgetError, get_ready, in_child
from printplan.errors import MasterError

PLENTY = Budget(cpu_s=20, wall_s=60, memory_bytes=500_000_000)
linux = pytest.mark.skipif(sys.platform != "linux", reason="Limits are Linux's.")


def own_id():
    return os.getpid()


def refuse():
    raise MasterError("too small", remedy="Take a larger one.")


def fail():
    raise ZeroDivisionError("by nothing")


def spin():
    while True:
        pass


def fill():
    held = []
    while True:
        held.append(bytearray(10_000_000))


def die():
    os.kill(os.getpid(), signal.SIGSEGV)


def is_running(process):
    try:
        told = Path(f"/proc/{process}/status").read_text()
    except FileNotFoundError:
        return False
    return "(zombie)" not in told  # nobody waits for it where nothing is process 1


def has_loaded(module):
    return module in sys.modules


def test_child_gets_ready_meanwhile():
    """The thread that readies it holds it until it is."""
    assert not in_child(PLENTY, has_loaded, "colorsys")
    get_ready("colorsys")
    ends = monotonic() + 60
    while not in_child(PLENTY, has_loaded, "colorsys"):
        assert monotonic() < ends


def test_what_cannot_be_loaded_is_told_by_who_needs_it():
    get_ready("printplan.is_not_there")
    assert in_child(PLENTY, own_id) != os.getpid()


def test_one_child_serves_until_it_is_ended():
    first = in_child(PLENTY, own_id)
    assert first != os.getpid()
    with ThreadPoolExecutor(4) as pool:
        assert set(pool.map(lambda _: in_child(PLENTY, own_id), range(20))) == {first}


def test_what_is_given_and_found_may_be_large():
    assert in_child(PLENTY, bytes.upper, b"a" * 30_000_000) == b"A" * 30_000_000


def test_relative_paths_begin_where_the_caller_is(tmp_path, monkeypatch):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "told").write_text(name)
        monkeypatch.chdir(tmp_path / name)
        assert in_child(PLENTY, Path.read_text, Path("told")) == name
    assert in_child(PLENTY, os.getcwd) == str(tmp_path / "two")


def test_refusals_come_back_as_they_are_and_faults_with_their_trace():
    with pytest.raises(MasterError) as refused:
        in_child(PLENTY, refuse)
    assert refused.value.problem == "too small"
    assert refused.value.remedy == "Take a larger one."
    with pytest.raises(RuntimeError, match=r"(?s)in fail.*by nothing"):
        in_child(PLENTY, fail)
    assert in_child(PLENTY, own_id) == in_child(PLENTY, own_id)


@linux
@pytest.mark.parametrize(
    ("work", "budget", "why"),
    [
        (spin, Budget(cpu_s=1, wall_s=60, memory_bytes=10**9), "more than 1 s of"),
        (fill, Budget(cpu_s=20, wall_s=60, memory_bytes=10**8), "100 MB of memory"),
        (die, PLENTY, r"broke down \(SIGSEGV\)"),
    ],
    ids=["time", "memory", "crash"],
)
def test_work_beyond_its_budget_ends_and_the_next_is_done(work, budget, why):
    before, began_s = in_child(PLENTY, own_id), monotonic()
    with pytest.raises(BudgetError, match=why):
        in_child(budget, work)
    assert monotonic() - began_s < 20
    assert in_child(PLENTY, own_id) not in {before, os.getpid()}


def test_the_clock_ends_what_waits():
    with pytest.raises(BudgetError, match=r"more than 0.2 s$"):
        in_child(Budget(cpu_s=20, wall_s=0.2, memory_bytes=10**9), sleep, 30)
    assert in_child(PLENTY, len, "abc") == 3


@pytest.mark.skipif(not hasattr(os, "fork"), reason="There are no forks here.")
def test_a_fork_has_a_child_of_its_own():
    parents = in_child(PLENTY, own_id)
    reading, writing = os.pipe()
    forked = os.fork()
    if forked == 0:  # pragma: no cover - another process
        try:
            os.write(writing, str(in_child(PLENTY, own_id)).encode())
            child_work._end_own()
        finally:
            os._exit(0)
    os.waitpid(forked, 0)
    assert int(os.read(reading, 20)) not in {parents, os.getpid(), forked}
    assert in_child(PLENTY, own_id) == parents


@linux
def test_the_child_ends_with_its_parent():
    """Even with one that was killed, and in the middle of its work."""
    reading, writing = os.pipe()
    forked = os.fork()
    if forked == 0:  # pragma: no cover - another process
        os.write(writing, str(in_child(PLENTY, own_id)).encode())
        in_child(PLENTY, sleep, 600)
    child = int(os.read(reading, 20))
    sleep(0.2)
    os.kill(forked, signal.SIGKILL)
    os.waitpid(forked, 0)
    ends_s = monotonic() + 10
    while is_running(child):
        assert monotonic() < ends_s
        sleep(0.05)
