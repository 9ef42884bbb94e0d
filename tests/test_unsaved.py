import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from printplan.errors import RecordError
from printplan.own_process import maker_in
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


SAY_WHO = (
    "from printplan.own_process import this_process; print(this_process(), flush=True)"
)


@pytest.fixture
def ended():
    """A process that has ended."""
    done = subprocess.run(
        [sys.executable, "-c", SAY_WHO], capture_output=True, text=True, check=True
    )
    return maker_in(done.stdout)


@pytest.fixture
def running():
    """Another process, which runs."""
    with subprocess.Popen(
        [sys.executable, "-c", f"{SAY_WHO}; input()"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        yield maker_in(process.stdout.readline())
        process.kill()


def as_left_by(maker, job):
    """Give what this process wrote to another one."""
    path = unsaved_path(job)
    other = unsaved_path(job, maker)
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


def test_choices_of_a_living_page_are_not_taken(bench, job, running):
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    unsaved.write()
    assert find_unsaved(job) is None
    assert not open_elsewhere(job)
    as_left_by(running, job)
    assert find_unsaved(job) is None
    assert open_elsewhere(job)


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="There is no /proc here.")
def test_number_of_an_ended_kernel_that_another_process_has_now(bench, job, running):
    """The running process of that number began after the choices were written."""
    unsaved = UnsavedChoices(bench)
    bench.change(colour=PERCEPTUAL)
    unsaved.write()
    left = as_left_by(replace(running, started="1xffffffff"), job)
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
    newer = unsaved_path(job).rename(
        job.with_name(f".{job.stem}.unsaved-{ended.process}.toml")  # as once named
    )
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
