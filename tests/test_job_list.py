"""The jobs of a studio are found where they lie, each with what became of it."""

import os
import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from recorded_print import MADE_ON, recorded, small_studio, with_spec

from printplan.errors import FitError, RecordError
from printplan.record.book_changes import change_paper
from printplan.record.duplicate_job import duplicate_job
from printplan.record.job_list import JobState, list_jobs
from printplan.record.journal.entry import Outcome
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.paper_book import read_paper_book, write_paper_book
from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.record.sidecar import write_sidecar_record
from printplan.spec import DeliverySpec, RoomSpec, SizeRule, SizeSpec

OTHER = "Heron Baryta 315"


@pytest.fixture(scope="module")
def made(studio, textured, tmp_path_factory):
    """A studio with one plan below ``jobs``, its file and its record."""
    folder = tmp_path_factory.mktemp("made") / "studio"
    wish = small_studio(folder, studio, textured)
    job = folder / "jobs" / "first"
    job.mkdir(parents=True)
    master = replace(wish.master, file="../../master.tif")
    write_plan_file(
        replace(wish, master=master, book="../../book.toml"), job / "print.toml"
    )
    whole = read_plan_file(job / "print.toml").resolved(job / "print.toml")
    record = recorded(whole, job / "print")
    write_sidecar_record(record)
    return folder, record


@pytest.fixture
def folder(made, tmp_path):
    """The same studio, moved: its records name files from where they lie."""
    return Path(shutil.copytree(made[0], tmp_path / "studio"))


@pytest.fixture
def record(made):
    return made[1]


@pytest.fixture
def plan(folder):
    return folder / "jobs" / "first" / "print.toml"


@pytest.fixture
def unmade(plan):
    """The plan without its file."""
    (plan.parent / "print.tif.record.toml").unlink()
    (plan.parent / "print.tif").unlink()
    return plan


def only(listed):
    assert listed.problems == ()
    (job,) = listed.jobs
    return job


def rewrite(plan, **parts):
    """The same plan with other parts of its spec."""
    write_plan_file(with_spec(read_plan_file(plan), **parts), plan, overwrite=True)


def test_a_plan_without_a_file_is_planned(folder, unmade):
    job = only(list_jobs(folder))
    assert job.plan_path == unmade
    assert job.state_words == "planned"
    assert job.wish.paper == "Fen Cotton 310"
    assert (folder / "master.tif").samefile(job.wish.master.file)


def test_a_file_is_its_plans_own_while_the_same_pixels_are_asked(folder, plan):
    job = only(list_jobs(folder))
    assert job.state is JobState.FILE_MADE
    assert job.record_path == plan.parent / "print.tif.record.toml"
    assert job.file_path == plan.parent / "print.tif"
    # Neither the room nor the number of copies changes a pixel of the file.
    rewrite(plan, room=RoomSpec(illuminance_lx=150), delivery=DeliverySpec(copies=3))
    assert only(list_jobs(folder)).state is JobState.FILE_MADE
    rewrite(plan, size=SizeSpec(rule=SizeRule.WIDTH, width_mm=110, ppi=150))
    assert only(list_jobs(folder)).state is JobState.CHANGED


def test_a_file_stays_its_plans_own_when_the_paper_is_renamed(folder, plan):
    change_paper(
        folder / "book.toml",
        "Fen Cotton 310",
        lambda old: replace(old, name="Heavy", former_names=(old.name,)),
    )
    wish = replace(read_plan_file(plan), paper="Heavy")
    write_plan_file(wish, plan, overwrite=True)
    assert only(list_jobs(folder)).state is JobState.FILE_MADE


def test_a_file_stays_its_plans_own_when_the_paper_left_the_book(folder):
    book = read_paper_book(folder / "book.toml")
    others = tuple(it for it in book.papers if it.name != "Fen Cotton 310")
    write_paper_book(replace(book, papers=others), folder / "book.toml", overwrite=True)
    assert only(list_jobs(folder)).state is JobState.FILE_MADE


def test_a_file_that_was_removed_is_told(folder, plan):
    (plan.parent / "print.tif").unlink()
    assert only(list_jobs(folder)).state_words == "file made, which is not there now"


def test_the_journal_says_how_the_print_came_out(folder, record):
    journal = folder / "journal.db"
    assert only(list_jobs(folder, journal)).state is JobState.FILE_MADE
    create_journal(journal, started_at=MADE_ON)
    good = entry_from_record(record, printed_at=MADE_ON, outcome=Outcome.GOOD)
    lost = entry_from_record(
        record,
        printed_at=MADE_ON - timedelta(days=1),
        outcome=Outcome.MISPRINT,
        cause="wrong paper or side",
    )
    with open_journal(journal) as opened:
        kept = opened.add(lost, noted_at=MADE_ON)
    job = only(list_jobs(folder, journal))
    assert job.state_words == "printed 2026-05-02: misprint, wrong paper or side"
    assert job.entry == kept
    with open_journal(journal) as opened:
        opened.add(good, noted_at=MADE_ON)
    assert only(list_jobs(folder, journal)).state_words == "printed 2026-05-03: good"


def test_a_journal_that_cannot_be_read_is_told_and_hides_no_job(folder):
    (folder / "journal.db").write_text("no journal", "utf-8")
    listed = list_jobs(folder, folder / "journal.db")
    assert len(listed.jobs) == len(listed.problems) == 1


def test_a_damaged_record_is_told_and_hides_no_job(folder, plan):
    (plan.parent / "print.tif.record.toml").write_text("made_at = ", "utf-8")
    listed = list_jobs(folder)
    assert [job.state for job in listed.jobs] == [JobState.PLANNED]
    assert "print.tif.record.toml" in listed.problems[0].problem


def test_a_damaged_plan_is_listed_with_its_reason(folder, plan):
    text = plan.read_text("utf-8")
    plan.write_text(text.replace('rule = "width"', 'rule = "wide"'), "utf-8")
    job = only(list_jobs(folder))
    assert job.state is JobState.DAMAGED
    assert "wide" in job.problem.problem
    plan.write_text(text.replace("[size]", "[size"), "utf-8")
    assert "not TOML" in only(list_jobs(folder)).problem.problem


def test_plans_are_listed_where_jobs_lie_and_nowhere_else(folder):
    text = (folder / "jobs" / "first" / "print.toml").read_text("utf-8")
    for place in ("", "job", "jobs/a/b", "lesson", ".hidden", "jobs/.trash"):
        (folder / place).mkdir(parents=True, exist_ok=True)
        (folder / place / "another.toml").write_text(text, "utf-8")
    (folder / "jobs" / "notes.toml").write_text("a = 1\n", "utf-8")
    found = {
        job.plan_path.relative_to(folder).as_posix() for job in list_jobs(folder).jobs
    }
    assert found == {
        "another.toml",
        "job/another.toml",
        "jobs/a/b/another.toml",
        "jobs/first/print.toml",
    }


def test_the_newest_is_first(folder, unmade):
    second = folder / "second.toml"
    second.write_bytes(unmade.read_bytes())
    for moment_s, names in ((5, ["second", "print"]), (3, ["print", "second"])):
        os.utime(unmade, (4, 4))
        os.utime(second, (moment_s, moment_s))
        assert [job.plan_path.stem for job in list_jobs(folder).jobs] == names


def test_a_folder_that_is_not_there_is_an_error(tmp_path):
    with pytest.raises(RecordError, match="cannot be read"):
        list_jobs(tmp_path / "nowhere")


def test_a_duplicate_is_the_same_wish_on_another_paper(folder, plan):
    before = plan.read_bytes()
    copy = duplicate_job(plan, paper=OTHER)
    assert copy == plan.with_name("print-2.toml")
    assert plan.read_bytes() == before
    old, new = read_plan_file(plan), read_plan_file(copy)
    assert old.note
    assert new == replace(old, paper=OTHER, note="")
    states = {job.plan_path: job.state for job in list_jobs(folder).jobs}
    assert states == {plan: JobState.FILE_MADE, copy: JobState.PLANNED}


def test_a_duplicate_in_another_size_keeps_the_pictures_shape(plan):
    copy = read_plan_file(duplicate_job(plan, width_mm=90))
    assert (copy.spec.size.rule, copy.spec.size.width_mm) == (SizeRule.WIDTH, 90)
    rewrite(
        plan,
        size=SizeSpec(rule=SizeRule.FILL, width_mm=120, height_mm=100, ppi=150),
    )
    copy = read_plan_file(duplicate_job(plan, width_mm=90))
    assert (copy.spec.size.rule, copy.spec.size.height_mm) == (SizeRule.FILL, 75)


def test_a_duplicate_that_cannot_be_printed_is_not_written(plan):
    with pytest.raises(FitError):
        duplicate_job(plan, width_mm=400)
    wider = read_plan_file(duplicate_job(plan, width_mm=380, media_size="A2"))
    assert wider.spec.sheet.media_size == "A2"
    assert sorted(it.name for it in plan.parent.glob("*.toml")) == [
        "print-2.toml",
        "print.tif.record.toml",
        "print.toml",
    ]
