"""A process that shares the machine keeps fewer threads busy, and makes the same."""

import os
import threading

import pytest
from recorded_print import small_studio

from printplan.pixels.render import render
from printplan.processor_share import take_share, threads_at_most
from printplan.record.plan_file import open_plan_file


@pytest.fixture
def share():
    yield take_share
    take_share(None)


def test_a_process_alone_uses_the_processors_that_there_are(share, monkeypatch):
    for processors, threads in ((1, 2), (3, 3), (64, 4), (None, 2)):
        monkeypatch.setattr(os, "cpu_count", lambda count=processors: count)
        assert threads_at_most(4) == threads
    share(1)
    assert threads_at_most(4) == 1
    share(9)
    assert threads_at_most(4) == 4


def test_file_is_the_same_by_any_number_of_threads(share, studio, textured, tmp_path):
    wish = small_studio(tmp_path, studio, textured)
    made = {}
    for threads in (1, 2, 3, None):
        share(threads)
        sheet = open_plan_file(wish)
        with sheet.master:
            made[threads] = render(sheet, tmp_path / f"{threads}.tif").sha256
    assert len(set(made.values())) == 1


def test_render_starts_no_more_threads_than_its_share(
    share, studio, textured, tmp_path
):
    wish = small_studio(tmp_path, studio, textured)
    for threads in (1, 3):
        share(threads)
        seen = set()

        def look(*_, seen=seen):
            names = [it.name for it in threading.enumerate()]
            seen.add(sum(it.startswith("printplan_") for it in names))

        sheet = open_plan_file(wish)
        with sheet.master:
            render(sheet, tmp_path / f"seen-{threads}.tif", progress=look)
        assert 1 <= max(seen) <= threads
