import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from printplan.errors import RecordError
from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.spec import ColourSpec, Intent
from printplan.workbook.bench import Bench
from printplan.workbook.unsaved import (
    UnsavedChoices,
    apply_unsaved,
    find_unsaved,
    open_elsewhere,
    unsaved_path,
)

PERCEPTUAL = ColourSpec(intent=Intent.PERCEPTUAL)


@pytest.fixture
def bench(job):
    with Bench.open(job) as bench:
        yield bench


@pytest.fixture
def ended():
    """The number of a process that has ended."""
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    return process.pid


def as_left_by(process, job):
    """Give what this process wrote to another one."""
    path = unsaved_path(job)
    other = unsaved_path(job, process)
    path.rename(other)
    return other


def test_choice_comes_back_after_its_kernel_ended(bench, job, ended):
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    unsaved.write()
    chosen = bench.plan
    left = as_left_by(ended, job)
    with Bench.open(job) as again:
        assert again.plan != chosen
        found = find_unsaved(job)
        apply_unsaved(again, found)
        assert again.plan == chosen
    assert not left.exists()


def test_choice_is_written_soon_without_being_asked(bench, job):
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    assert unsaved.settle()
    assert read_plan_file(unsaved_path(job)).spec.colour == PERCEPTUAL


def test_saved_plan_leaves_nothing_behind(bench, job):
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    unsaved.write()
    assert unsaved_path(job).exists()
    bench.keep()
    unsaved.write()
    assert not unsaved_path(job).exists()
    assert find_unsaved(job) is None


def test_plan_file_itself_is_never_touched(bench, job):
    before = job.read_bytes()
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    unsaved.write()
    assert job.read_bytes() == before


def test_choices_of_a_living_page_are_not_taken(bench, job):
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    unsaved.write()
    assert find_unsaved(job) is None
    assert not open_elsewhere(job)
    as_left_by(os.getppid(), job)
    assert find_unsaved(job) is None
    assert open_elsewhere(job)


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="There is no /proc here.")
def test_number_of_an_ended_kernel_that_another_process_has_now(bench, job):
    """The running process of that number began after the choices were written."""
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    unsaved.write()
    left = as_left_by(os.getppid(), job)
    os.utime(left, (1, 1))
    assert not open_elsewhere(job)
    assert find_unsaved(job).path == left


def test_newest_of_several_is_taken(bench, job, ended):
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    unsaved.write()
    older = as_left_by(ended, job)
    os.utime(older, (1, 1))
    bench.change(size=replace(bench.spec.size, width_mm=200.0))
    unsaved.write()
    # The number 0 is no process of anybody's.
    newer = as_left_by(0, job)
    assert find_unsaved(job).path == newer


def test_choices_for_another_master_stay_in_their_file(bench, job, ended):
    wish = bench.files.whole_wish
    other = replace(wish, master=replace(wish.master, file="/elsewhere/other.tif"))
    path = unsaved_path(job, ended)
    write_plan_file(other, path)
    with pytest.raises(RecordError, match=r"made for another master, other\.tif"):
        apply_unsaved(bench, find_unsaved(job))
    assert path.exists()


def test_damaged_file_is_no_choice(job, ended):
    unsaved_path(job, ended).write_text("no plan = [", encoding="utf-8")
    assert find_unsaved(job) is None
