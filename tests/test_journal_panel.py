"""Prints are noted in the panel, stay in the journal, and are counted with care."""

import csv
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from recorded_print import recorded, small_studio

from printplan.demo.studio import make_demo_journal
from printplan.demo.year_of_prints import INVENTED, SETTINGS_KEPT_ON
from printplan.record.job_list import newest_entries
from printplan.record.journal.entry import Outcome
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.journal.view import read_journal
from printplan.record.plan_file import write_plan_file
from printplan.record.sidecar import write_sidecar_record
from printplan.spec import RoomSpec
from printplan.workbook import figures
from printplan.workbook.bench import Bench
from printplan.workbook.panels import journal as journal_module
from printplan.workbook.panels.journal import JournalPanel
from printplan.workbook.record_words import entry_words, rates_words

NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)


@pytest.fixture
def wish(studio, textured, tmp_path):
    """A job in a studio of its own: a plan, a paper book and a master."""
    wish = small_studio(tmp_path / "studio", studio, textured)
    (tmp_path / "studio" / "job").mkdir()
    room = RoomSpec(illuminance_lx=150, display_cd_m2=120)
    wish = replace(wish, spec=replace(wish.spec, room=room))
    write_plan_file(wish, tmp_path / "studio" / "job" / "plan.toml")
    return wish


@pytest.fixture
def job(tmp_path):
    return tmp_path / "studio" / "job"


@pytest.fixture
def record(wish, job):
    record = recorded(wish, job / "print")
    write_sidecar_record(record)
    return record


@pytest.fixture
def bench(record):
    """What the record was made of."""
    with Bench.open(Path(record.rendered.path).with_name("plan.toml")) as bench:
        yield bench


@pytest.fixture
def panel(bench):
    panel = JournalPanel(bench)
    assert panel.settle()
    return panel


def note(panel):
    panel.add.click()
    assert panel.settle()


def entries(panel):
    with read_journal(panel.path) as journal:
        return journal.entries()


def is_hidden(control):
    return control.layout.display == "none"


def test_journal_lies_beside_the_paper_book_and_begins_with_the_first_print(
    panel, record, bench
):
    assert panel.path.parent == bench.files.book_path.parent
    assert not panel.path.exists()
    assert "No print is noted yet" in panel.rate.value
    assert panel.table.value == ""
    assert panel.export.disabled
    note(panel)
    (kept,) = entries(panel)
    assert kept.entry.outcome is Outcome.GOOD
    assert kept.entry.file_sha256 == record.rendered.sha256
    assert kept.entry.cost.currency == "EUR"
    with read_journal(panel.path) as journal:
        assert record.rendered.sha256 in journal.record_text(kept)
    assert "Noted as entry 1: good." in panel.noted.value
    assert "print" in panel.table.value
    assert "0 of 1 prints were lost" in panel.rate.value


def test_a_misprint_is_noted_with_its_cause_and_what_had_said_so(panel):
    assert is_hidden(panel.cause)
    assert is_hidden(panel.caught_by)
    panel.outcome.value = Outcome.MISPRINT
    assert not is_hidden(panel.cause)
    assert not is_hidden(panel.caught_by)
    panel.cause.value = "too dark for the room"
    panel.caught_by.value = "display and room"
    panel.printed_at.value = NOON
    panel.note.value = "Seen at night."
    panel.ink_ml.value = 1.5
    note(panel)
    (kept,) = entries(panel)
    assert kept.entry.cause == "too dark for the room"
    assert kept.entry.caught_by == "display and room"
    assert kept.entry.printed_at == NOON
    assert (kept.entry.note, kept.entry.ink_ml) == ("Seen at night.", 1.5)
    assert "had said so" in panel.table.value


def test_a_misprint_wants_a_cause_that_somebody_chose(panel):
    panel.outcome.value = Outcome.MISPRINT
    note(panel)
    assert "no cause is chosen" in panel.message.value
    assert not panel.path.exists()


@pytest.mark.parametrize("typed", ["1e9", "two", "", "2.5"])
def test_copies_that_are_no_whole_number_are_refused(typed, panel):
    panel.copies.value = typed
    note(panel)
    assert "Type a whole number" in panel.message.value
    assert not panel.path.exists()


def test_a_print_of_tomorrow_is_refused(panel):
    panel.printed_at.value = datetime.now().astimezone() + timedelta(days=1)
    note(panel)
    assert "still to come" in panel.message.value
    assert not panel.path.exists()


def test_an_entry_is_struck_out_with_its_reason(panel):
    note(panel)
    panel.strike.click()
    assert "no reason is given" in panel.message.value
    panel.why.value = "Noted twice."
    panel.strike.click()
    assert panel.settle()
    assert "Entry 1 is struck out: Noted twice." in panel.written.value
    with read_journal(panel.path) as journal:
        (kept,) = journal.struck_entries()
    assert (kept.is_struck, kept.why) == (True, "Noted twice.")
    assert panel.entry.options == ()


def test_a_cause_chosen_before_is_not_noted_of_a_good_print(panel):
    panel.outcome.value = Outcome.MISPRINT
    panel.caught_by.value = "display and room"
    panel.outcome.value = Outcome.GOOD
    note(panel)
    assert (entries(panel)[0].entry.cause, panel.message.value) == ("", "")


def test_copies_of_an_edition_get_its_next_numbers(panel):
    panel.edition.value = panel.edition.options[-1][1]
    assert not is_hidden(panel.new_title)
    panel.new_title.value, panel.new_size.value = "Waves", 5
    panel.copies.value = "2"
    note(panel)
    assert "with number 1/5, 2/5." in panel.noted.value
    assert panel.edition.value == "Waves"
    assert is_hidden(panel.new_title)
    note(panel)
    assert [str(it) for it in entries(panel)[1].numbers] == ["3/5", "4/5"]
    assert "3/5, 4/5" in panel.table.value
    note(panel)
    assert "1 of 5 numbers are left" in panel.message.value
    assert len(entries(panel)) == 2


def test_an_edition_without_a_title_is_refused_and_nothing_noted(panel):
    panel.edition.value = panel.edition.options[-1][1]
    note(panel)
    assert "The edition has no title." in panel.message.value
    assert "Give the picture" in panel.message.value
    assert not panel.path.exists()
    assert not panel.add.disabled


def test_trials_get_no_number_and_do_not_count(panel):
    panel.edition.value = panel.edition.options[-1][1]
    panel.outcome.value = Outcome.TRIAL
    assert is_hidden(panel.edition)
    assert is_hidden(panel.new_title)
    note(panel)
    assert entries(panel)[0].entry.outcome is Outcome.TRIAL
    assert "No print is noted yet, trials aside" in panel.rate.value


def test_rate_is_told_with_wilsons_interval(bench, record, tmp_path):
    """Newcombe (1998), Stat. Med. 17(8), table I: 81 of 263, 0.2553 to 0.3662."""
    path = tmp_path / "counted.db"
    good = entry_from_record(record, printed_at=NOON, outcome=Outcome.GOOD, copies=182)
    lost = replace(good, outcome=Outcome.MISPRINT, cause="other", copies=81)
    create_journal(path, started_at=NOON)
    with open_journal(path) as journal:
        journal.add(good, noted_at=NOON)
        journal.add(lost, noted_at=NOON)
    panel = JournalPanel(bench, journal=path)
    assert panel.settle()
    assert "81 of 263 prints were lost, 30.8%" in panel.rate.value
    assert "25.5% to 36.6%" in panel.rate.value


def test_table_for_other_programs_gets_a_free_name(panel):
    note(panel)
    for name in ("journal.csv", "journal-2.csv"):
        panel.export.click()
        assert panel.settle()
        assert str(panel.path.with_name(name)) in panel.written.value
        with panel.path.with_name(name).open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert [row["plan_id"] for row in rows] == ["print"]


@pytest.mark.slow
def test_a_new_record_is_found_and_chosen(panel, wish, job):
    assert [words for words, _ in panel.record.options] == ["print.tif"]
    write_sidecar_record(recorded(wish, job / "<i>second"))
    panel.again.click()
    assert panel.settle()
    assert panel.record.value.name == "<i>second.tif.record.toml"
    note(panel)
    assert "&lt;i&gt;second" in panel.table.value
    assert "<i>second" not in panel.table.value


def test_without_a_record_nothing_can_be_noted(panel, job):
    (job / "print.tif.record.toml").unlink()
    panel.again.click()
    assert panel.settle()
    assert panel.add.disabled


def test_a_record_that_is_gone_is_told_and_nothing_noted(panel, job):
    (job / "print.tif.record.toml").unlink()
    note(panel)
    assert "There is no file" in panel.message.value
    assert not panel.path.exists()
    assert not panel.add.disabled


@pytest.mark.slow
def test_damaged_entry_is_named_above_the_rest(panel, bench):
    """In the journal's panel, in its table, and beside the prints of the studio."""
    note(panel)
    note(panel)
    with closing(sqlite3.connect(panel.path)) as raw, raw:
        guard = "SELECT sql FROM sqlite_schema WHERE name = 'revision_keeps_update'"
        (trigger,) = raw.execute(guard).fetchone()
        raw.execute("DROP TRIGGER revision_keeps_update")
        raw.execute(
            "UPDATE revision SET cost = '1.2.3', currency = 'EUR', "
            "cost_basis = 'x' WHERE entry_id = 1"
        )
        raw.execute(trigger)
    again = JournalPanel(bench, journal=panel.path)
    assert again.settle()
    assert "Entry 1 cannot be read" in again.table.value
    assert "Prints noted: 1" in again.table.value
    again.export.click()
    assert again.settle()
    assert "Entry 1 cannot be read" in again.written.value
    problems = []
    assert newest_entries(panel.path, problems)
    assert "Entry 1 cannot be read" in str(problems[0])


def test_a_file_that_is_no_journal_is_told_and_kept(bench, tmp_path):
    path = tmp_path / "letters.db"
    path.write_bytes(b"Dear customer, " * 100)
    panel = JournalPanel(bench, journal=path)
    assert panel.settle()
    assert "is not a journal" in panel.message.value
    note(panel)
    assert "is not a journal" in panel.message.value
    assert path.read_bytes() == b"Dear customer, " * 100


def test_a_fault_of_our_own_is_shown_and_frees_the_buttons(panel, monkeypatch):
    def broken(*_args, **_more):
        raise ZeroDivisionError("by zero")

    seen = []
    monkeypatch.setattr("threading.excepthook", lambda it: seen.append(it.exc_type))
    monkeypatch.setattr(journal_module, "note_print", broken)
    note(panel)
    assert "a fault in printplan (ZeroDivisionError: by zero)" in panel.message.value
    assert seen == [ZeroDivisionError]
    assert not panel.add.disabled


# The invented year, and words


@pytest.mark.slow
def test_the_invented_year_is_made_once_and_drawn(studio, tmp_path):
    own = replace(studio, journal_path=tmp_path / "year.db")
    path = make_demo_journal(own)
    before = path.read_bytes()
    assert make_demo_journal(own) == path
    assert path.read_bytes() == before
    with read_journal(path) as journal:
        assert journal.note() == INVENTED
        year = journal.entries()
    picture = figures.journal_picture(year, since=SETTINGS_KEPT_ON)
    assert len(picture.png) > 10_000
    assert "Before 1 July 2024: 30 of 132 prints lost" in repr(picture)


def test_an_entry_is_told_with_what_is_not_known(record):
    told = entry_words(
        entry_from_record(record, printed_at=NOON, outcome=Outcome.GOOD)
    ).text
    assert "ink used | not known" in told
    # The paper at the price in the book; nobody measured the ink.
    assert "cost | 2.40 EUR: per print 1 sheet at 2.40 EUR, ink not counted" in told
    assert "sheets used | 1" in told


def test_rates_of_nothing_are_an_empty_table():
    assert rates_words({}, heading="Lost to").text.splitlines() == [
        "Lost to",
        "what | prints | share | Wilson interval, 95%",
    ]
