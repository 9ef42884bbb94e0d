"""Prints are found by their records, compared, noted, made and planned again."""

import shutil
import tomllib
from dataclasses import replace
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from recorded_print import MADE_ON, recorded, small_studio, with_spec

from printplan.errors import RecordError
from printplan.record.duplicate_job import plan_of_record
from printplan.record.journal.entry import Outcome
from printplan.record.journal.view import read_journal
from printplan.record.plan_file import open_plan, read_plan_file, write_plan_file
from printplan.record.print_list import list_prints
from printplan.record.record_file import read_record, write_record
from printplan.record.sidecar import (
    sidecar_sheets,
    write_sidecar_record,
    write_sidecar_sheets,
)
from printplan.record.studio_folder import BOOK_NAME
from printplan.spec import ColourSpec
from printplan.workbook.bench import Bench
from printplan.workbook.panels import prints as prints_module
from printplan.workbook.panels.prints import PrintsPanel, Question


def digest(path):
    return sha256(path.read_bytes()).hexdigest()


def is_hidden(control):
    return control.layout.display == "none"


@pytest.fixture(scope="module")
def base(studio, textured, tmp_path_factory):
    """A studio with a plan and two prints of it, the second one lighter."""
    folder = tmp_path_factory.mktemp("base") / "studio"
    wish = small_studio(folder, studio, textured)
    shutil.move(folder / "book.toml", folder / BOOK_NAME)
    (folder / "jobs").mkdir()
    wish = replace(wish, book=str(folder / BOOK_NAME))
    near = replace(
        wish,
        book=f"../{BOOK_NAME}",
        master=replace(wish.master, file="../master.tif"),
    )
    write_plan_file(near, folder / "jobs" / "first.toml")
    first = recorded(wish, folder / "jobs" / "first")
    write_sidecar_record(first)
    lighter = with_spec(wish, colour=ColourSpec(lighten_l=4.0))
    second = recorded(lighter, folder / "jobs" / "second", note="Lighter.")
    later = (MADE_ON + timedelta(hours=1)).isoformat()
    write_sidecar_record(replace(second, made_at=later))
    return folder


@pytest.fixture
def folder(base, tmp_path):
    return Path(shutil.copytree(base, tmp_path / "studio"))


@pytest.fixture
def opened():
    return []


@pytest.fixture
def panel(folder, opened):
    panel = PrintsPanel(folder, on_open=opened.append)
    assert panel.settle()
    return panel


@pytest.fixture
def first(folder):
    return folder / "jobs" / "first.tif.record.toml"


def pick(panel, record_path):
    panel.prints._handle_custom_msg({"event": "pick", "key": str(record_path)}, [])
    assert panel.settle()


def press(panel, button):
    button.click()
    assert panel.settle()


# The list


def test_prints_are_listed_newest_first_with_day_paper_and_outcome(panel, folder):
    assert [it["name"] for it in panel.prints.items] == ["second.tif", "first.tif"]
    words = panel.prints.items[1]["words"]
    assert words == "3 May 2026, 14:05 on Fen Cotton 310: not noted"
    assert panel.chosen.record_path == folder / "jobs" / "second.tif.record.toml"
    for told in ("second.tif.record.toml", "Lighter.", "Studio 24", "not written"):
        assert told in panel.words.value
    assert read_record(panel.chosen.record_path).rendered.sha256 in panel.words.value


def test_a_file_that_has_gone_and_one_made_anew_are_told(panel, folder, first):
    (folder / "jobs" / "second.tif").unlink()
    earlier = replace(read_record(first), made_at="2026-01-01T10:00:00+01:00")
    write_record(earlier, folder / "jobs" / "first.tif-2.record.toml")
    press(panel, panel.again)
    told = [it["words"] for it in panel.prints.items]
    # Of two records of one name, the later is that of the file which lies there.
    assert [it.endswith("the file is not there now") for it in told] == [
        True,
        False,
        True,
    ]


def test_a_damaged_record_is_told_and_the_others_are_listed(panel, first):
    first.write_text("made_at = ", "utf-8")
    press(panel, panel.again)
    assert [it["name"] for it in panel.prints.items] == ["second.tif"]
    assert "first.tif.record.toml" in panel.problems.value


def test_a_studio_without_prints_says_so(base, tmp_path):
    shutil.copy(base / BOOK_NAME, tmp_path / BOOK_NAME)
    panel = PrintsPanel(tmp_path)
    assert panel.settle()
    assert "No print was made here yet" in panel.none.value
    assert is_hidden(panel.question)


def test_records_in_hidden_folders_are_none_of_the_prints(folder, first):
    hidden = folder / "jobs" / ".trash"
    hidden.mkdir()
    shutil.copy(first, hidden / first.name)
    assert len(list_prints(folder).prints) == 2


# The same file again


@pytest.mark.slow
def test_a_file_made_again_is_the_same_byte_for_byte(panel, folder, first):
    pick(panel, first)
    panel.question.value = Question.AGAIN
    before = digest(folder / "jobs" / "first.tif")
    press(panel, panel.make)
    again = folder / "jobs" / "first-again.tif"
    assert digest(again) == before == read_record(first).rendered.sha256
    assert "Identical" in panel.made.value
    press(panel, panel.make)
    assert digest(folder / "jobs" / "first-again-2.tif") == before
    assert digest(folder / "jobs" / "first.tif") == before
    assert not panel.make.disabled


@pytest.mark.slow
def test_a_master_that_has_moved_is_asked_for(panel, folder, first, tmp_path):
    moved = tmp_path / "moved.tif"
    (folder / "master.tif").rename(moved)
    pick(panel, first)
    panel.question.value = Question.AGAIN
    assert is_hidden(panel.master.ui)
    press(panel, panel.make)
    assert "is not there" in panel.message.value
    assert "On this page: &quot;master&quot;" in panel.message.value
    assert not is_hidden(panel.master.ui)
    panel.master.path.value = str(folder / "jobs" / "second.tif")
    press(panel, panel.master.go)
    assert "name a copy of it" in panel.message.value
    assert "--master" not in panel.message.value
    panel.master.path.value = str(moved)
    press(panel, panel.master.go)
    assert "Identical" in panel.made.value


def test_a_cancelled_reprint_leaves_no_file(panel, first, monkeypatch):
    def slow(*_, progress, **__):
        while True:  # until the person has had enough
            progress(1, 2)

    monkeypatch.setattr(prints_module, "reprint", slow)
    pick(panel, first)
    panel.make.click()
    press(panel, panel.cancel)
    assert "Cancelled" in panel.made.value
    assert not panel.make.disabled


# Its decision sheet and its outcome


@pytest.mark.slow
def test_the_decision_sheet_is_written_once_and_shown(panel, folder, first):
    pick(panel, first)
    assert not is_hidden(panel.write_sheets)
    press(panel, panel.write_sheets)
    page = folder / "jobs" / "first.tif.decision.html"
    pdf = folder / "jobs" / "first.tif.decision.pdf"
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert is_hidden(panel.write_sheets)
    assert "srcdoc" in panel.sheet.value
    assert sidecar_sheets(first) == (page, pdf)
    write_sidecar_sheets(first)
    newer = sidecar_sheets(first)
    assert [it.name for it in newer] == [
        "first.tif-2.decision.html",
        "first.tif-2.decision.pdf",
    ]
    pick(panel, folder / "jobs" / "second.tif.record.toml")
    assert panel.sheet.value == ""


def test_pages_of_another_record_are_not_taken_for_ones_own(first):
    """The second record of a name is numbered as second pages are."""
    second = first.with_name("first.tif-2.record.toml")
    shutil.copy(first, second)
    page = first.with_name("first.tif-2.decision.html")
    page.write_text("page")
    assert sidecar_sheets(first) == ()
    assert sidecar_sheets(second) == (page,)


def test_an_outcome_noted_here_stands_in_the_list(panel, folder, first):
    pick(panel, first)
    panel.question.value = Question.OUTCOME
    journal = panel.journal
    assert is_hidden(journal.record)
    assert journal.path == folder / "journal.db"
    journal.outcome.value = Outcome.MISPRINT
    press(panel, journal.add)
    assert "no cause is chosen" in journal.message.value
    journal.cause.value = "too dark for the room"
    press(panel, journal.add)
    with read_journal(journal.path) as opened:
        (kept,) = opened.entries()
    assert kept.entry.file_sha256 == read_record(first).rendered.sha256
    told = {it["name"]: it["words"] for it in panel.prints.items}
    assert told["first.tif"].endswith("misprint: too dark for the room")
    assert told["second.tif"].endswith("not noted")
    assert panel.chosen.record_path == first


# Two records


def flat(value, place=()):
    """All plain values of a TOML file by where they stand."""
    if isinstance(value, dict):
        for key, one in value.items():
            yield from flat(one, (*place, key))
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for number, one in enumerate(value):
            named = one.get("finding", one)
            keys = [it for it in ("topic", "name", "printer") if it in named]
            name = named[keys[0]] if keys else number
            yield from flat(one, (*place, name))
    elif value != "":  # as if it were not given
        yield place, value


def test_two_prints_differ_in_what_their_records_differ_in(panel, folder, first):
    """Read by Python's own TOML reader and compared key by key."""
    second = folder / "jobs" / "second.tif.record.toml"
    pick(panel, first)
    panel.question.value = Question.COMPARE
    panel.other.value = str(second)
    ours, theirs = (
        dict(flat(tomllib.loads(it.read_text("utf-8")))) for it in (first, second)
    )
    differing = {
        it for it in ours.keys() | theirs.keys() if ours.get(it) != theirs.get(it)
    }
    table = panel.differences.value
    assert table.count("<tr>") - 1 == len(differing)
    assert "first.tif" in table
    assert "second.tif" in table
    assert "lighten" in table
    assert theirs["rendered", "sha256"][:12] in table


def test_one_print_alone_has_none_to_compare_with(folder, first):
    first.with_name("second.tif.record.toml").unlink()
    panel = PrintsPanel(folder)
    assert panel.settle()
    panel.question.value = Question.COMPARE
    assert "no other print" in panel.differences.value


# Its plan


def test_the_plan_of_a_print_is_written_as_a_new_job_and_opened(
    panel, folder, first, opened
):
    second = folder / "jobs" / "second.tif.record.toml"
    before = digest(folder / "jobs" / "first.toml"), digest(second)
    panel.question.value = Question.PLAN
    press(panel, panel.plan)
    (path,) = opened
    assert path == folder / "jobs" / "second.toml"
    record = read_record(second)
    plan = read_plan_file(path)
    assert plan.spec == record.spec
    # From its own folder, so that the studio can move.
    assert (plan.master.file, plan.book) == ("../master.tif", f"../{BOOK_NAME}")
    sheet = open_plan(path)
    with sheet.master:
        assert sheet.plan.facts.sha256 == record.facts.sha256
    pick(panel, first)
    press(panel, panel.plan)
    assert opened[1] == folder / "jobs" / "first-2.toml"
    assert (digest(folder / "jobs" / "first.toml"), digest(second)) == before


def test_a_plan_that_cannot_be_made_today_is_not_written(panel, folder, opened):
    (folder / "master.tif").rename(folder / "elsewhere.tif")
    panel.question.value = Question.PLAN
    press(panel, panel.plan)
    assert "master.tif" in panel.message.value
    assert opened == []
    assert not (folder / "jobs" / "second.toml").exists()
    assert not panel.plan.disabled


def test_a_record_without_a_paper_book_has_no_plan(folder, first):
    record = replace(read_record(first), book="")
    path = folder / "jobs" / "bookless.record.toml"
    write_record(record, path)
    with pytest.raises(RecordError, match="paper book"):
        plan_of_record(path)


# In a lesson


def test_a_bench_lists_what_lies_beside_its_plan_and_takes_a_plan(folder):
    with Bench.open(folder / "jobs" / "first.toml") as bench:
        panel = PrintsPanel(bench)
        assert panel.settle()
        assert len(panel.prints.items) == 2
        assert panel.journal.path == folder / "journal.db"
        assert bench.spec.colour.lighten_l == 0
        press(panel, panel.plan)
        assert bench.files.plan_path == folder / "jobs" / "second.toml"
        assert bench.spec.colour.lighten_l == 4.0
        assert bench.stem == "second"
        assert panel.message.value == ""


def test_every_control_says_what_it_is_for(panel):
    kinds = ("Text", "Combobox", "Dropdown", "Button", "Select")

    def controls(part):
        for child in getattr(part, "children", ()):
            yield child
            yield from controls(child)

    found = [it for it in controls(panel.ui) if type(it).__name__ in kinds]
    assert len(found) > 12
    assert [it.description for it in found if not it.tooltip] == []
