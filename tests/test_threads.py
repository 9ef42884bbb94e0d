"""Parts of a picture worked on side by side: each once, and none left running."""

import os
import sys
from threading import Event, get_ident

import pytest

from printplan.loops import threads
from printplan.loops.threads import WORTH_TWO_THREADS, in_parts, work_alone

ROWS, ROW_PX = 100, WORTH_TWO_THREADS // 50


@pytest.fixture(autouse=True)
def two_processors(monkeypatch):
    monkeypatch.setattr(threads, "threads_at_most", lambda most: most)


@pytest.mark.parametrize("_turn", ["first", "again"])
def test_each_row_is_done_once_by_this_thread_and_a_helper(_turn):
    """What came before leaves nothing behind."""
    done, helped = [], Event()

    def work(first, stop):
        done.extend((row, get_ident()) for row in range(first, stop))
        if len({thread for _, thread in done}) == 2:
            helped.set()
        assert helped.wait(60)  # this thread takes no other part until it was helped

    in_parts(work, ROWS, unit=ROW_PX)
    assert sorted(row for row, _ in done) == list(range(ROWS))
    assert get_ident() in {thread for _, thread in done}


@pytest.mark.parametrize("count", [0, 1, 2, 3, 5])
def test_fewer_rows_than_parts_are_done_too(count):
    done = []
    in_parts(lambda *part: done.extend(range(*part)), count, unit=WORTH_TWO_THREADS)
    assert sorted(done) == list(range(count))


def test_parts_of_a_part_are_done_by_its_own_thread():
    inner = []

    def work(first, stop):
        mine = get_ident()
        in_parts(
            lambda *_: inner.append(get_ident() == mine), stop - first, unit=ROW_PX
        )

    in_parts(work, 4 * ROWS, unit=ROW_PX)
    assert inner == [True] * 4


@pytest.mark.parametrize("fails_here", [True, False], ids=["here", "in the helper"])
def test_a_fault_is_raised_when_nobody_works_any_more(fails_here):
    here, begun, running = get_ident(), Event(), []

    def work(first, _stop):
        running.append(first)
        if get_ident() != here:
            begun.set()
        assert begun.wait(60)
        if (get_ident() == here) == fails_here:
            raise ValueError("no number")
        running.remove(first)

    with pytest.raises(ValueError, match="no number"):
        in_parts(work, ROWS, unit=ROW_PX)
    assert len(running) == 1  # the part that failed
    in_parts(lambda *_: None, ROWS, unit=ROW_PX)


def test_a_small_picture_and_a_thread_among_others_need_no_helper():
    used = []

    def work(first, stop):
        used.append((first, stop, get_ident()))

    in_parts(work, ROWS, unit=1)
    work_alone()
    try:
        in_parts(work, ROWS, unit=ROW_PX)
    finally:
        threads._this_thread.is_one_of_many = False
    assert used == [(0, ROWS, get_ident())] * 2


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux lets a thread choose")
def test_a_helper_wakes_up_beside_this_thread():
    """On one of the other processors that this thread may use, where it has some."""
    own, found, helped = os.sched_getaffinity(0), {}, Event()

    def work(*_):
        found[get_ident()] = os.sched_getaffinity(0)
        if len(found) == 2:
            helped.set()
        assert helped.wait(60)

    in_parts(work, ROWS, unit=ROW_PX)
    mine = found.pop(get_ident())
    (others,) = found.values()
    assert mine == os.sched_getaffinity(0) == own
    assert others < own if len(own) > 1 else others == own
    assert len(own - others) == min(len(own) - 1, 1)
