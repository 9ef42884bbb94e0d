"""Arrays get the memory of others only when those have ended, all views of them too."""

import gc
import re
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from printplan.loops import memory
from printplan.loops.memory import empty, find_pages, forget_spare

LARGE = (3, 200, 400)


@pytest.fixture(autouse=True)
def nothing_spare():
    forget_spare()
    yield
    forget_spare()


def place(array):
    return array.ctypes.data


@pytest.mark.parametrize("dtype", [np.float32, np.uint16, ">u2", np.uint8])
@pytest.mark.parametrize("shape", [LARGE, (1, 5), (0, 3), (700_000,)])
def test_it_is_an_array_like_any_other(shape, dtype):
    array = empty(shape, dtype)
    assert (array.shape, array.dtype) == (shape, np.dtype(dtype))
    assert array.flags.c_contiguous
    assert array.flags.writeable
    array[...] = 7
    assert (array == 7).all()


def test_memory_is_used_again_when_the_last_view_has_ended():
    array = empty(LARGE)
    first = place(array)
    view = array[1, 10:].reshape(-1)[::2]
    del array
    others = [empty(LARGE) for _ in range(3)]
    assert first not in map(place, others)
    view[...] = 1
    del view
    gc.collect()
    assert place(empty(LARGE)) == first


def test_a_band_with_a_few_rows_more_takes_the_same():
    array = empty((3, 200, 400))
    first = place(array)
    del array
    assert place(empty((3, 203, 400))) == first


def test_no_two_arrays_share_memory():
    """Taken, written and read by threads that end theirs in any order."""

    def work(number):
        kept = []
        for turn in range(60):
            array = empty((1 + (number + turn) % 3, 300, 400))
            array[...] = number * 1000 + turn
            kept.append((array, number * 1000 + turn))
            if turn % 4 == 3:
                assert all((it == value).all() for it, value in kept)
                del kept[turn % len(kept)]
            kept = kept[-4:]
        return True

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(work, range(8)))


def test_no_more_is_kept_than_a_print_needs(monkeypatch):
    forget_spare()
    others = memory._spare._bytes  # of arrays that other tests keep
    monkeypatch.setattr(memory, "_MOST_BYTES", others + 2_000_000)
    monkeypatch.setattr(memory, "_MOST_PIECES", 0)
    monkeypatch.setattr(memory, "_LEAST_SPARE_BYTES", 0)
    arrays = [empty(LARGE) for _ in range(5)]
    del arrays
    gc.collect()
    assert 0 < sum(map(len, memory._spare._pieces)) <= 2_000_000
    forget_spare()
    assert not memory._spare._pieces


def given_back(count, *, beside=()):
    """What is spare of so many alike that were in use, beside others that still are."""
    spare = memory._Spare()
    in_use = [spare.taken(size) for size in beside]
    pieces = [spare.taken(1000) for _ in range(count)]
    for piece in pieces:
        spare.given(piece)
    assert len(in_use) == len(beside)
    return [len(piece) for piece in spare._pieces]


@pytest.fixture
def no_bytes_are_free(monkeypatch):
    monkeypatch.setattr(memory, "_MOST_BYTES", 0)
    monkeypatch.setattr(memory, "_MOST_PIECES", 0)
    monkeypatch.setattr(memory, "_LEAST_SPARE_BYTES", 0)


@pytest.mark.usefixtures("no_bytes_are_free")
def test_so_many_of_the_largest_are_kept_whatever_they_take(monkeypatch):
    assert given_back(5) == []
    monkeypatch.setattr(memory, "_MOST_PIECES", 3)
    assert given_back(5) == [1125] * 3
    assert given_back(5, beside=[1000]) == [1125] * 2


@pytest.mark.usefixtures("no_bytes_are_free")
def test_some_is_kept_however_much_is_in_use(monkeypatch):
    monkeypatch.setattr(memory, "_LEAST_SPARE_BYTES", 2500)
    assert given_back(5, beside=[100_000]) == [1125] * 2


def resident_kb(path):
    """What the system holds in memory of a file that this process has mapped."""
    maps = Path("/proc/self/smaps").read_text("ascii")
    _, _, own = maps.partition(f"{path}\n")
    return int(re.search(r"^Rss: +(\d+)", own, re.MULTILINE)[1])


def test_pages_of_a_mapped_file_are_found_and_keep_what_they_hold(tmp_path):
    path = tmp_path / "rows"
    path.write_bytes(bytes(range(256)) * 8192)
    rows = np.memmap(path, np.uint8, "r+", shape=(1024, 512, 4))
    if sys.platform == "linux":
        before = resident_kb(path)
    find_pages(rows[:, ::2])
    if sys.platform == "linux":
        assert (before, resident_kb(path)) == (0, 2048)
    assert np.array_equal(rows.reshape(-1, 256), np.tile(np.arange(256), (8192, 1)))


@pytest.mark.parametrize("array", [np.ones(9), empty((300, 400))], ids=["own", "lent"])
def test_pages_of_other_arrays_are_left_alone(array):
    array[...] = 3
    find_pages(array)
    assert (array == 3).all()


def test_system_that_finds_no_pages_is_left_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(memory, "_POPULATE_WRITE", 99)
    find_pages(np.memmap(tmp_path / "rows", np.uint8, "w+", shape=100))
