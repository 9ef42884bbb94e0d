"""What is noted in the journal stays, and what cannot be kept is told."""

import csv
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from time import monotonic

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from printplan.errors import RecordError
from printplan.record.journal import file as journal_file
from printplan.record.journal import schema as journal_schema
from printplan.record.journal.entry import (
    CAUSES,
    Cost,
    Outcome,
    PaperUnit,
    PaperUsed,
    PrintEntry,
    ResultPhoto,
    photo_of_result,
)
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.journal.misprints import Waste, waste
from printplan.record.journal.rows import ENTRY_COLUMNS
from printplan.record.journal.view import (
    journal_csv,
    read_journal,
    write_journal_csv,
)

NOON = datetime(2024, 5, 3, 12, 0, tzinfo=timezone(timedelta(hours=2)))
HASH = sha256(b"file").hexdigest()

PLAIN = PrintEntry(
    printed_at=NOON,
    plan_id="stream-on-alder-satin",
    paper="Alder Satin 260",
    printer="Studio 24",
    width_mm=200,
    height_mm=200,
    outcome=Outcome.GOOD,
)
FULL = replace(
    PLAIN,
    outcome=Outcome.MISPRINT,
    cause="wrong profile",
    caught_by="profile changed",
    copies=3,
    file_sha256=HASH,
    paper_used=PaperUsed(amount=1.85, unit=PaperUnit.METRES),
    ink_ml=4.25,
    cost=Cost(amount=Decimal("7.40"), currency="EUR", basis="prices of May"),
    photo=ResultPhoto(path="/prints/stream.jpg", sha256=HASH),
    note='Too blue; "the stream"\nloses its green – see µ.',
)


def names_in(folder):
    return [path.name for path in folder.iterdir()]


@pytest.fixture
def path(tmp_path):
    create_journal(tmp_path / "prints.db", started_at=NOON, note="Of the loft.")
    return tmp_path / "prints.db"


@pytest.fixture
def journal(path):
    with open_journal(path) as opened:
        yield opened


# What is noted stays


@pytest.mark.parametrize("entry", [PLAIN, FULL], ids=["plain", "full"])
def test_entry_comes_back_as_it_was_noted(path, journal, entry):
    kept = journal.add(entry, noted_at=NOON, record_text="paper = 'Alder'\n")
    with read_journal(path) as again:
        assert again.entries() == (kept,)
        assert again.record_text(kept) == "paper = 'Alder'\n"
        assert again.note() == "Of the loft."
    assert kept.entry == replace(
        entry, record_sha256=sha256(b"paper = 'Alder'\n").hexdigest()
    )
    assert (kept.revision, kept.changed_at, kept.is_struck) == (1, NOON, False)


texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))
amounts = st.floats(1e-6, 1e6)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    note=texts,
    name=texts.filter(str.strip),
    ink_ml=st.none() | amounts,
    sheets=amounts,
    cost=st.decimals(0, 10**9, places=4),
    copies=st.integers(1, 10_000),
    minutes=st.integers(-14 * 60, 14 * 60),
)
def test_any_entry_comes_back(
    journal, note, name, ink_ml, sheets, cost, copies, minutes
):
    entry = replace(
        PLAIN,
        printed_at=NOON.replace(tzinfo=timezone(timedelta(minutes=minutes))),
        plan_id=name,
        note=note,
        ink_ml=ink_ml,
        copies=copies,
        paper_used=PaperUsed(amount=sheets, unit=PaperUnit.SHEETS),
        cost=Cost(amount=cost, currency="EUR", basis=name),
    )
    kept = journal.add(entry, noted_at=NOON)
    assert kept.entry == entry
    assert kept.entry.printed_at.utcoffset() == entry.printed_at.utcoffset()


def test_entries_come_in_the_order_of_printing(journal):
    """By the moment itself: the clock of another zone may read later."""
    later = replace(PLAIN, printed_at=NOON + timedelta(minutes=30))
    clock_ahead = NOON.astimezone(timezone(timedelta(hours=12)))
    earlier = replace(PLAIN, printed_at=clock_ahead)
    journal.add(later, noted_at=NOON)
    journal.add(earlier, noted_at=NOON)
    assert [kept.entry for kept in journal.entries()] == [earlier, later]


def test_same_record_is_kept_once(path, journal):
    for _ in range(3):
        journal.add(PLAIN, noted_at=NOON, record_text="the same")
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("SELECT count(*) FROM record").fetchone() == (1,)


def test_print_without_a_record_has_an_empty_one(journal):
    assert journal.record_text(journal.add(PLAIN, noted_at=NOON)) == ""


def test_record_changed_by_hand_is_noticed(path, journal):
    kept = journal.add(PLAIN, noted_at=NOON, record_text="as it was")
    with closing(sqlite3.connect(path)) as raw, raw:
        raw.execute("DROP TRIGGER record_keeps_update")
        raw.execute("UPDATE record SET text = 'as it was not'")
    with pytest.raises(RecordError, match="Use the record's own file"):
        journal.record_text(kept)


# Changes


def test_change_keeps_what_was_there(journal):
    first = journal.add(PLAIN, noted_at=NOON)
    later = NOON + timedelta(days=1)
    second = journal.change(first, FULL, changed_at=later, why="Seen by daylight.")
    assert journal.history(first.entry_id) == (first, second)
    assert journal.entries() == (second,)
    assert (second.revision, second.changed_at, second.why) == (
        2,
        later,
        "Seen by daylight.",
    )


def test_struck_entry_is_kept_and_can_count_again(journal):
    kept = journal.add(PLAIN, noted_at=NOON)
    struck = journal.strike(kept, changed_at=NOON, why="Noted twice.")
    assert journal.entries() == ()
    assert journal.struck_entries() == (struck,)
    back = journal.change(struck, PLAIN, changed_at=NOON, why="It was another.")
    assert journal.entries() == (back,)
    assert [it.is_struck for it in journal.history(kept.entry_id)] == [
        False,
        True,
        False,
    ]


def test_change_of_a_changed_entry_is_refused(path, journal):
    """Two workbooks read the same entry; the second does not undo the first."""
    kept = journal.add(PLAIN, noted_at=NOON)
    with open_journal(path) as other:
        mine = other.change(kept, FULL, changed_at=NOON, why="Mine.")
    with pytest.raises(RecordError, match="Read it again"):
        journal.change(kept, PLAIN, changed_at=NOON, why="Theirs.")
    with pytest.raises(RecordError, match="Read it again"):
        journal.strike(kept, changed_at=NOON, why="Theirs.")
    assert journal.entries() == (mine,)


def test_change_without_a_reason_is_refused(journal):
    kept = journal.add(PLAIN, noted_at=NOON)
    with pytest.raises(RecordError, match="Say in a few words why"):
        journal.change(kept, FULL, changed_at=NOON, why=" ")


def test_unknown_entry_has_no_history(journal):
    with pytest.raises(RecordError, match=r"those that are listed"):
        journal.history(7)


@pytest.mark.parametrize(
    "table", ["about", "record", "entry", "revision", "edition", "edition_number"]
)
@pytest.mark.parametrize("sql", ["DELETE FROM {}", "UPDATE {} SET {} = {}"])
def test_file_itself_refuses_to_forget(path, journal, table, sql):
    """Even from another program: what was written stays."""
    journal.open_edition("Stream", 5, opened_at=NOON)
    journal.add(PLAIN, noted_at=NOON, record_text="r", edition="Stream")
    with closing(sqlite3.connect(path)) as raw:
        column = raw.execute(f"PRAGMA table_info({table})").fetchone()[1]
        with pytest.raises(sqlite3.IntegrityError, match="what was written stays"):
            raw.execute(sql.format(table, column, column))


def test_written_together_is_kept_together(journal):
    def note_two():
        with journal.together():
            journal.add(PLAIN, noted_at=NOON)
            journal.add(replace(FULL, cause="no such cause"), noted_at=NOON)

    with pytest.raises(RecordError, match="Known here"):
        note_two()
    assert journal.entries() == ()
    with journal.together():
        journal.add(PLAIN, noted_at=NOON)
        # What fails by itself leaves no half of it behind.
        with pytest.raises(RecordError, match="Known here"):
            journal.add(PLAIN, noted_at=NOON, edition="no such edition")
    assert len(journal.entries()) == 1


# Causes


def test_list_of_causes_can_be_edited(journal):
    assert journal.causes() == CAUSES
    journal.add_cause("static")
    assert journal.causes() == (*CAUSES, "static")
    kept = journal.add(replace(FULL, cause="static"), noted_at=NOON)
    journal.retire_cause("static")
    assert journal.causes() == CAUSES
    with pytest.raises(RecordError, match="Known here"):
        journal.add(replace(FULL, cause="static"), noted_at=NOON)
    # An entry keeps a cause that is no longer given.
    other = replace(kept.entry, note="seen again")
    assert journal.change(kept, other, changed_at=NOON, why="A note.").entry == other
    journal.add_cause("static")
    assert journal.causes() == (*CAUSES, "static")


def test_near_cause_is_offered(journal):
    with pytest.raises(RecordError, match='Did you mean "wrong profile"'):
        journal.add(replace(FULL, cause="wrong profil"), noted_at=NOON)


# Editions


@pytest.fixture
def edition(journal):
    journal.open_edition("Stream", 5, opened_at=NOON, note="On cotton.")
    return journal


def issued(journal):
    return [(it.number, it.spoiled) for it in journal.editions()[0].issued]


def test_numbers_go_up_and_one_goes_to_each_copy(edition):
    first = edition.add(PLAIN, noted_at=NOON, edition="Stream")
    second = edition.add(replace(PLAIN, copies=3), noted_at=NOON, edition="Stream")
    assert [str(number) for number in first.numbers] == ["1/5"]
    assert [str(number) for number in second.numbers] == ["2/5", "3/5", "4/5"]
    assert edition.editions()[0].next_number == 5


def test_number_can_be_given_after_judging(edition):
    kept = edition.add(PLAIN, noted_at=NOON)
    numbered = edition.issue_numbers(kept, "Stream", issued_at=NOON)
    assert [str(number) for number in numbered.numbers] == ["1/5"]
    with pytest.raises(RecordError, match="Note a new print"):
        edition.issue_numbers(numbered, "Stream", issued_at=NOON)


def test_spoiled_number_is_explained_and_never_given_again(edition):
    edition.add(replace(FULL, copies=1), noted_at=NOON, edition="Stream")
    kept = edition.add(PLAIN, noted_at=NOON, edition="Stream")
    edition.add(PLAIN, noted_at=NOON, edition="Stream")
    edition.strike(kept, changed_at=NOON, why="Never printed.")
    edition.spoil_number("Stream", 3, why="Torn in the frame.", spoiled_at=NOON)
    edition.add(PLAIN, noted_at=NOON, edition="Stream")
    assert issued(edition) == [
        (1, "wrong profile"),
        (2, "Never printed."),
        (3, "Torn in the frame."),
        (4, ""),
    ]
    assert [number.number for number in edition.editions()[0].spoiled] == [1, 2, 3]


def test_good_print_found_spoiled_later_spoils_its_number(edition):
    kept = edition.add(PLAIN, noted_at=NOON, edition="Stream")
    assert issued(edition) == [(1, "")]
    lost = replace(PLAIN, outcome=Outcome.MISPRINT, cause="dust or damage")
    changed = edition.change(kept, lost, changed_at=NOON, why="Seen by daylight.")
    assert changed.numbers[0].spoiled == "dust or damage"


def test_edition_begun_elsewhere_goes_on(journal):
    journal.open_edition("Old", 25, opened_at=NOON, first_number=12)
    kept = journal.add(PLAIN, noted_at=NOON, edition="Old")
    assert [str(number) for number in kept.numbers] == ["12/25"]


def test_full_edition_gives_no_number(edition):
    edition.add(replace(PLAIN, copies=4), noted_at=NOON, edition="Stream")
    with pytest.raises(RecordError, match="never given twice"):
        edition.add(replace(PLAIN, copies=2), noted_at=NOON, edition="Stream")
    assert len(edition.entries()) == 1  # nor was the print noted without it


@pytest.mark.parametrize(
    ("change", "remedy"),
    [
        ({"copies": 2}, "Leave its copies"),
        ({"outcome": Outcome.TRIAL}, "Leave its copies"),
    ],
)
def test_numbered_entry_keeps_its_copies(edition, change, remedy):
    kept = edition.add(PLAIN, noted_at=NOON, edition="Stream")
    with pytest.raises(RecordError, match=remedy):
        edition.change(kept, replace(PLAIN, **change), changed_at=NOON, why="x")


@pytest.mark.parametrize(
    ("act", "remedy"),
    [
        (lambda it: it.open_edition("Stream", 9, opened_at=NOON), "another title"),
        (lambda it: it.open_edition("Bowl", 0, opened_at=NOON), "Give a size"),
        (
            lambda it: it.open_edition("Bowl", 5, opened_at=NOON, first_number=6),
            "Give a size",
        ),
        (
            lambda it: it.open_edition("Bowl", 5, opened_at=NOON.replace(tzinfo=None)),
            "offset from UTC",
        ),
        (lambda it: it.open_edition(" ", 5, opened_at=NOON), "picture's title"),
        (lambda it: it.add(PLAIN, noted_at=NOON, edition="Streams"), "Did you mean"),
        (
            lambda it: it.add(
                replace(PLAIN, outcome=Outcome.TRIAL), noted_at=NOON, edition="Stream"
            ),
            "Note it as good",
        ),
        (
            lambda it: it.spoil_number("Stream", 1, why="x", spoiled_at=NOON),
            "None was given",
        ),
    ],
)
def test_wrong_use_of_an_edition_is_told(edition, act, remedy):
    with pytest.raises(RecordError, match=remedy):
        act(edition)


def test_number_is_spoiled_once(edition):
    edition.add(PLAIN, noted_at=NOON, edition="Stream")
    edition.spoil_number("Stream", 1, why="Torn.", spoiled_at=NOON)
    with pytest.raises(RecordError, match="Nothing is left to do"):
        edition.spoil_number("Stream", 1, why="Torn.", spoiled_at=NOON)
    with pytest.raises(RecordError, match="Given are 1 to 1"):
        edition.spoil_number("Stream", 2, why="Torn.", spoiled_at=NOON)


def test_struck_entry_gets_no_number(edition):
    kept = edition.add(PLAIN, noted_at=NOON)
    struck = edition.strike(kept, changed_at=NOON, why="x")
    with pytest.raises(RecordError, match="an entry that counts"):
        edition.issue_numbers(struck, "Stream", issued_at=NOON)


@pytest.mark.parametrize("number", [1, 3, 6])
def test_file_itself_refuses_a_wrong_number(path, edition, number):
    """1 is given, 3 leaves a gap, 6 is above the edition."""
    kept = edition.add(PLAIN, noted_at=NOON, edition="Stream")
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("PRAGMA foreign_keys = ON")
        with pytest.raises(sqlite3.IntegrityError):
            raw.execute(
                "INSERT INTO edition_number VALUES ('Stream', ?, ?, ?)",
                (number, kept.entry_id, NOON.isoformat()),
            )


# What cannot be kept


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"printed_at": NOON.replace(tzinfo=None)}, "offset from UTC"),
        ({"plan_id": ""}, "a word or two"),
        ({"paper": "  "}, "a word or two"),
        ({"printer": ""}, "a word or two"),
        ({"width_mm": 0}, "Give both from"),
        ({"height_mm": float("nan")}, "Give both from"),
        ({"width_mm": 1e9}, "Give both from"),
        ({"copies": 0}, "Give 1 to"),
        ({"copies": 10_001}, "Give 1 to"),
        ({"file_sha256": "abc"}, "64 digits"),
        ({"record_sha256": HASH.upper()}, "64 digits"),
        ({"ink_ml": 0}, "or nothing"),
        ({"ink_ml": float("inf")}, "or nothing"),
        ({"outcome": Outcome.MISPRINT}, '"other" if none fits'),
        ({"cause": "other"}, "as a misprint"),
        ({"caught_by": "black ink"}, "as a misprint"),
        ({"note": "\ud800"}, "Type it again"),
        ({"note": "a\0b"}, "Type it again"),
    ],
    ids=str,
)
def test_impossible_entry_is_refused(changes, remedy):
    with pytest.raises(RecordError, match=remedy):
        replace(PLAIN, **changes)


@pytest.mark.parametrize(
    ("make", "remedy"),
    [
        (lambda: PaperUsed(amount=-1, unit=PaperUnit.SHEETS), "or nothing"),
        (lambda: PaperUsed(amount=float("nan"), unit=PaperUnit.METRES), "or nothing"),
        (lambda: Cost(amount=7.4, currency="EUR", basis="x"), "Decimal"),
        (lambda: Cost(amount=Decimal(-1), currency="EUR", basis="x"), "Decimal"),
        (lambda: Cost(amount=Decimal("sNaN"), currency="EUR", basis="x"), "Decimal"),
        (lambda: Cost(amount=Decimal(1), currency="euro", basis="x"), "ISO 4217"),
        (lambda: Cost(amount=Decimal(1), currency="EUR", basis=""), "of which day"),
        (lambda: ResultPhoto(path="", sha256=HASH), "a word or two"),
        (lambda: ResultPhoto(path="x.jpg", sha256=""), "64 digits"),
    ],
)
def test_impossible_amount_is_refused(make, remedy):
    with pytest.raises(RecordError, match=remedy):
        make()


@pytest.mark.parametrize("place", ["cost", "photo"])
def test_text_that_no_file_can_hold_is_refused_everywhere(place):
    parts = {
        "cost": Cost(amount=Decimal(1), currency="EUR", basis="\udc00"),
        "photo": ResultPhoto(path="\udc00", sha256=HASH),
    }
    with pytest.raises(RecordError, match="Type it again"):
        replace(PLAIN, **{place: parts[place]})


def test_photo_is_told_by_its_hash(tmp_path):
    (tmp_path / "result.jpg").write_bytes(b"file")
    photo = photo_of_result(tmp_path / "result.jpg")
    assert photo == ResultPhoto(path=str(tmp_path / "result.jpg"), sha256=HASH)
    with pytest.raises(RecordError, match="There is no file"):
        photo_of_result(tmp_path / "missing.jpg")


def test_missing_record_of_a_hash_is_refused(journal):
    with pytest.raises(RecordError, match="what you refer to"):
        journal.add(replace(PLAIN, record_sha256=HASH), noted_at=NOON)
    assert journal.entries() == ()


# The file


def test_columns_are_those_of_the_table(path):
    with closing(sqlite3.connect(path)) as raw:
        columns = [row[1] for row in raw.execute("PRAGMA table_info(revision)")]
    assert columns[5:] == list(ENTRY_COLUMNS)


def test_file_is_kept_as_safely_as_sqlite_can(journal):
    """FULL is 2 and EXTRA 3 (SQLite documentation, PRAGMA synchronous)."""
    found = {
        name: journal._connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
    }
    assert found == {
        "journal_mode": "delete",
        "synchronous": 3,
        "foreign_keys": 1,
        "busy_timeout": 1000 * journal_file.PATIENCE_S,
    }


def test_every_table_is_strict(path):
    with closing(sqlite3.connect(path)) as raw:
        tables = raw.execute("PRAGMA table_list").fetchall()
    strict = {row[1]: row[5] for row in tables if row[2] == "table"}
    assert {name for name in strict if not name.startswith("sqlite_")} == {
        "about",
        "cause",
        "record",
        "entry",
        "revision",
        "edition",
        "edition_number",
        "spoiled_number",
        "stock_change",
        "stock_settled",
        "certificate",
    }
    assert all(is_strict for name, is_strict in strict.items() if name[:7] != "sqlite_")


def test_start_never_replaces_a_file(path):
    before = path.read_bytes()
    with pytest.raises(RecordError, match="Open it"):
        create_journal(path, started_at=NOON)
    assert path.read_bytes() == before
    assert names_in(path.parent) == [path.name]


def test_start_that_fails_leaves_nothing(tmp_path):
    def fill(journal):
        journal.add(PLAIN, noted_at=NOON)
        journal.add(FULL, noted_at=NOON, edition="none")

    with pytest.raises(RecordError, match="Known here"):
        create_journal(tmp_path / "prints.db", started_at=NOON, fill=fill)
    assert names_in(tmp_path) == []


def test_start_in_a_missing_folder_is_told(tmp_path):
    with pytest.raises(RecordError, match="folder that you may write to"):
        create_journal(tmp_path / "none" / "prints.db", started_at=NOON)


def test_start_without_second_names_on_the_disk(tmp_path, monkeypatch):
    """Some disks have no hard links; the file still replaces no other."""

    def refuse(*_):
        raise OSError("no links here")

    monkeypatch.setattr(os, "link", refuse)
    create_journal(tmp_path / "prints.db", started_at=NOON)
    read_journal(tmp_path / "prints.db").close()
    with pytest.raises(RecordError, match="Open it"):
        create_journal(tmp_path / "prints.db", started_at=NOON)
    assert names_in(tmp_path) == ["prints.db"]


def told_of_damage(opening, path):
    """To be written it is refused; to be read it says what is wrong."""
    try:
        with opening(path) as opened:
            assert opening is read_journal
            assert opened.damage()
    except RecordError as error:
        assert "your last copy" in error.remedy  # noqa: PT017 - either is right


@pytest.mark.parametrize("opening", [open_journal, read_journal])
class TestOpening:
    def test_missing_file_is_told(self, opening, tmp_path):
        with pytest.raises(RecordError, match="start a new one there"):
            opening(tmp_path / "none.db")
        assert names_in(tmp_path) == []

    @pytest.mark.parametrize(
        "content",
        [b"", b"not a database, but long enough. " * 40],
        ids=["empty", "text"],
    )
    def test_other_file_is_left_alone(self, opening, tmp_path, content):
        other = tmp_path / "other.db"
        other.write_bytes(content)
        with pytest.raises(RecordError, match=r"Choose another file|export it again"):
            opening(other)
        assert other.read_bytes() == content
        assert names_in(tmp_path) == ["other.db"]

    def test_other_database_is_left_alone(self, opening, tmp_path):
        with closing(sqlite3.connect(tmp_path / "other.db")) as raw, raw:
            raw.execute("CREATE TABLE prints (id INTEGER)")
        with pytest.raises(RecordError, match="not a journal of printplan"):
            opening(tmp_path / "other.db")

    def test_newer_version_is_left_alone(self, opening, path):
        with closing(sqlite3.connect(path)) as raw:
            raw.execute(f"PRAGMA user_version = {journal_schema.SCHEMA_VERSION + 1}")
        before = path.read_bytes()
        with pytest.raises(RecordError, match="newest printplan"):
            opening(path)
        assert path.read_bytes() == before

    def test_folder_is_told(self, opening, tmp_path):
        with pytest.raises(RecordError, match="Name the file inside it"):
            opening(tmp_path)

    @pytest.mark.parametrize("damage", ["cut", "scratched"])
    def test_damage_is_told(self, opening, path, damage):
        with open_journal(path) as journal:
            for number in range(60):
                journal.add(replace(FULL, note=f"{number}" * 40), noted_at=NOON)
        whole = path.read_bytes()
        half = len(whole) // 2 // 4096 * 4096
        end = b"" if damage == "cut" else b"\xff" * 4096 + whole[half + 4096 :]
        path.write_bytes(whole[:half] + end)
        told_of_damage(opening, path)

    def test_row_that_refers_to_none_is_told(self, opening, path):
        with closing(sqlite3.connect(path)) as raw, raw:
            moment = NOON.isoformat()
            raw.execute("INSERT INTO spoiled_number VALUES ('x', 1, ?, 'y')", (moment,))
        told_of_damage(opening, path)

    @pytest.mark.parametrize(
        ("what", "sql"),
        [
            ("trigger", "CREATE TRIGGER x AFTER INSERT ON entry BEGIN SELECT 1; END"),
            ("view", "CREATE VIEW x AS SELECT * FROM entry"),
            ("table", "CREATE TABLE x (y)"),
            ("index", "CREATE INDEX x ON revision (paper)"),
        ],
    )
    def test_what_others_put_into_the_file_is_refused(self, opening, path, what, sql):
        with closing(sqlite3.connect(path)) as raw, raw:
            raw.execute(sql)
        before = path.read_bytes()
        with pytest.raises(RecordError, match=f'holds the {what} "x", which printplan'):
            opening(path)
        assert path.read_bytes() == before

    def test_guard_that_others_took_out_or_changed_is_told(self, opening, path):
        with closing(sqlite3.connect(path)) as raw, raw:
            raw.execute("DROP TRIGGER entry_keeps_delete")
        with pytest.raises(RecordError, match='lacks the trigger "entry_keeps_delete"'):
            opening(path)
        with closing(sqlite3.connect(path)) as raw, raw:
            raw.execute(
                "CREATE TRIGGER entry_keeps_delete BEFORE DELETE ON entry "
                "BEGIN SELECT 1; END"
            )
        with pytest.raises(RecordError, match="is not as printplan made it"):
            opening(path)

    @pytest.mark.skipif(sys.platform == "win32", reason="No pipes in folders there.")
    @pytest.mark.parametrize("name", ["pipe", "/dev/zero", "nul\0", "n" * 300])
    def test_what_is_no_file_is_refused_at_once(self, opening, tmp_path, name):
        os.mkfifo(tmp_path / "pipe")
        began_s = monotonic()
        with pytest.raises(RecordError):
            opening(tmp_path / name)
        assert monotonic() - began_s < 1

    @pytest.mark.skipif(sys.platform == "win32", reason="No pipes in folders there.")
    def test_pipe_beside_a_journal_is_refused(self, opening, path):
        os.mkfifo(path.with_name(f"{path.name}-journal"))
        with pytest.raises(RecordError, match="Find out who put it there"):
            opening(path)

    def test_change_that_another_writer_ends_meanwhile_is_no_fault(
        self, opening, path, monkeypatch
    ):
        """Its rollback journal goes between any two looks at the folder."""
        beside, look = path.with_name(f"{path.name}-journal"), Path.lstat

        def a_moment_later(it):
            if it == beside:
                it.unlink(missing_ok=True)
            return look(it)

        beside.touch()
        monkeypatch.setattr(Path, "lstat", a_moment_later)
        with opening(path) as journal:
            assert journal.entries() == ()
        assert not beside.exists()

    def test_half_written_change_is_undone(self, opening, path, tmp_path):
        """As a kill leaves it: pages of the change are in the file already."""
        with open_journal(path) as journal:
            kept = journal.add(PLAIN, noted_at=NOON)
            journal._connection.execute("PRAGMA cache_size = 5")
            left = tmp_path / "left"
            left.mkdir()
            with journal.together():
                for number in range(100):
                    text = f"{number:5000}"
                    journal.add(FULL, noted_at=NOON, record_text=text)
                shutil.copy(path, left)
                shutil.copy(f"{path}-journal", left)
        assert (left / path.name).stat().st_size > 400_000
        with opening(left / path.name) as journal:
            assert journal.entries() == (kept,)
        assert names_in(left) == [path.name]


SENSELESS = [
    ("printed_at", "2024-13-45T99:00"),
    ("changed_at", "2024-02-30T12:00:00"),
    ("width_mm", float("inf")),
    ("cost", "1.2.3"),
    ("cost", ""),
]


@pytest.mark.parametrize(("column", "value"), SENSELESS)
def test_one_damaged_row_is_named_and_the_rest_is_shown(path, column, value):
    """As another program may leave it: what SQLite takes and no entry can say."""
    with open_journal(path) as journal:
        kept = [journal.add(FULL, noted_at=NOON) for _ in range(5)]
    with closing(sqlite3.connect(path)) as raw, raw:
        guard = "SELECT sql FROM sqlite_schema WHERE name = 'revision_keeps_update'"
        (trigger,) = raw.execute(guard).fetchone()
        raw.execute("DROP TRIGGER revision_keeps_update")
        change = f"UPDATE revision SET {column} = ? WHERE entry_id = 3"  # noqa: S608
        raw.execute(change, (value,))
        raw.execute(trigger)
    for opening in (read_journal, open_journal):
        with opening(path) as journal:
            assert [it.entry_id for it in journal.entries()] == [1, 2, 4, 5]
            assert journal.entries()[0] == kept[0]
            (told,) = journal.damage()
            assert told.startswith("Entry 3 cannot be read (")
            with pytest.raises(RecordError, match=r"makes no sense|Give|must"):
                journal.history(3)
    with open_journal(path) as journal:
        journal.add(PLAIN, noted_at=NOON)
        assert len(journal.entries()) == 5


def test_scratched_page_costs_its_own_entries_alone(path):
    """Each page of the file in turn is filled with ones, or with nothing."""
    with open_journal(path) as journal:
        for number in range(200):
            journal.add(replace(PLAIN, note=f"{number:0200}"), noted_at=NOON)
    whole, shown = path.read_bytes(), []
    for start in range(4096, len(whole), 4096):
        for fill in (b"\xff", b"\0"):
            path.write_bytes(whole[:start] + fill * 4096 + whole[start + 4096 :])
            try:
                with read_journal(path) as journal:
                    read, damage = journal.entries(), journal.damage()
            except RecordError:
                shown.append(0)
                continue
            shown.append(len(read))
            assert all(it.entry.note == f"{it.entry_id - 1:0200}" for it in read)
            assert damage or len(read) == 200
    # The leaves of the table of revisions: 200 notes of 200 bytes fill ten or more.
    assert len([it for it in shown if 150 < it < 200]) >= 20


def test_older_journal_is_brought_up_and_kept_as_it_was(path, monkeypatch):
    with open_journal(path) as journal:
        kept = journal.add(FULL, noted_at=NOON)
    before = path.read_bytes()
    monkeypatch.setattr(journal_file, "SCHEMA_VERSION", NEXT)
    monkeypatch.setattr(journal_schema, "SCHEMA", f"{journal_schema.SCHEMA}{MORE}")
    monkeypatch.setitem(journal_schema.UPGRADES, NEXT - 1, MORE)
    journal_schema._own_schema.cache_clear()
    try:
        with read_journal(path) as journal:  # which leaves the file as it is
            assert journal.entries() == (kept,)
            assert journal.damage() == ()
        assert path.read_bytes() == before
        with open_journal(path) as journal:
            assert journal.entries() == (kept,)
            number = journal._connection.execute("PRAGMA user_version").fetchone()
            assert number == (NEXT,)
        (copy,) = (it for it in path.parent.iterdir() if ".before-" in it.name)
    finally:
        monkeypatch.undo()
        journal_schema._own_schema.cache_clear()
    with read_journal(copy) as journal:
        assert journal.entries() == (kept,)


NEXT = journal_schema.SCHEMA_VERSION + 1
MORE = "CREATE TABLE later (\n    id INTEGER\n);\n"


def as_version_1(path):
    """The same journal as it was made before stock and certificates were kept."""
    with closing(sqlite3.connect(path)) as raw, raw:
        for name in ("stock_settled", "stock_change", "certificate"):
            raw.execute(f"DROP TABLE {name}")
        raw.execute("PRAGMA user_version = 1")


def test_journal_of_version_1_is_read_and_brought_up(path):
    with open_journal(path) as journal:
        kept = journal.add(FULL, noted_at=NOON)
    as_version_1(path)
    with read_journal(path) as journal:
        assert journal.entries() == (kept,)
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            journal._connection.execute("DELETE FROM cause")
    with open_journal(path) as journal:
        journal_schema.require_own_schema(journal._connection, path)
        assert journal.entries() == (kept,)
        assert journal.damage() == ()


def test_upgrade_that_fails_leaves_the_journal_as_it_was(path, monkeypatch):
    before = path.read_bytes()
    monkeypatch.setattr(journal_file, "SCHEMA_VERSION", NEXT)
    monkeypatch.setitem(
        journal_schema.UPGRADES, NEXT - 1, f"{MORE}CREATE TABLE entry (a);\n"
    )
    with pytest.raises(RecordError):
        open_journal(path)
    assert path.read_bytes() == before


def test_looking_writes_nothing(path):
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    with read_journal(path) as journal:
        journal.entries()
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            journal._connection.execute("DELETE FROM cause")
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    assert not hasattr(journal, "add")


@contextmanager
def write_protected(path):
    """A copy in a folder that may only be read, and a user who is bound by that."""
    folder = Path(tempfile.mkdtemp(dir="/tmp"))
    copy = Path(shutil.copy(path, folder))
    copy.chmod(0o444)
    folder.chmod(0o555)
    is_root = os.geteuid() == 0
    try:
        if is_root:
            os.seteuid(65534)
        yield copy
    finally:
        if is_root:
            os.seteuid(0)
        folder.chmod(0o755)
        shutil.rmtree(folder)


def test_write_protected_journal_can_be_looked_into_and_no_more(path, journal):
    kept = journal.add(FULL, noted_at=NOON)
    with write_protected(path) as copy:
        with read_journal(copy) as looked:
            assert looked.entries() == (kept,)
        with pytest.raises(RecordError, match="without changing it"):
            open_journal(copy)
        with pytest.raises(RecordError, match="may write to"):
            create_journal(copy.with_name("new.db"), started_at=NOON)


def test_writer_waits_for_another_and_then_says_so(path, journal, monkeypatch):
    monkeypatch.setattr(journal_file, "PATIENCE_S", 0.05)
    with journal.together(), pytest.raises(RecordError, match="try again"):
        open_journal(path)
    open_journal(path).close()


def test_reader_sees_the_last_kept_state_beside_a_writer(path, journal):
    with journal.together():
        journal.add(PLAIN, noted_at=NOON)
        with read_journal(path) as other:
            assert other.entries() == ()
    with read_journal(path) as other:
        assert len(other.entries()) == 1


def test_full_disk_is_told_and_nothing_is_noted(path):
    with open_journal(path) as journal:
        (pages,) = journal._connection.execute("PRAGMA page_count").fetchone()
        journal._connection.execute(f"PRAGMA max_page_count = {pages + 2}")
        with pytest.raises(RecordError, match="Make room"):
            journal.add(PLAIN, noted_at=NOON, record_text="x" * 50_000)
        assert journal.entries() == ()
        journal.add(PLAIN, noted_at=NOON)


def test_closed_journal_says_so(journal):
    journal.close()
    with pytest.raises(RecordError, match="open it again"):
        journal.entries()


@pytest.mark.parametrize("name", ["a b.db", "50%25.db", "what?#.db", "ü–ß.db"])
def test_any_file_name_will_do(tmp_path, name):
    create_journal(tmp_path / name, started_at=NOON)
    with open_journal(tmp_path / name) as journal:
        journal.add(PLAIN, noted_at=NOON)
    assert names_in(tmp_path) == [name]


def test_old_sqlite_is_told(path, monkeypatch):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 36, 0))
    with pytest.raises(RecordError, match="newer Python"):
        open_journal(path)


def test_journal_is_opened_without_heavy_libraries():
    """A workbook that only notes a print does not wait for statistics."""
    code = (
        "import sys, printplan.record.journal.journal;"
        "print(sorted({'numpy', 'scipy', 'PIL', 'matplotlib'} & {*sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


# The table for other programs


def test_table_reads_back_and_is_rfc_4180(journal, tmp_path):
    journal.open_edition("Stream", 5, opened_at=NOON)
    journal.add(replace(FULL, copies=2), noted_at=NOON, edition="Stream")
    journal.add(PLAIN, noted_at=NOON)
    target = tmp_path / "prints.csv"
    write_journal_csv(journal.entries(), target)
    data = target.read_bytes()
    # RFC 4180, 2.1: lines end in CR LF. The line feed in the note stands in quotes.
    assert data.count(b"\r\n") == 3
    assert data.endswith(b"\r\n")
    assert b'"Too blue; ""the stream""\n' in data  # 2.7: a quote is doubled
    with target.open(newline="", encoding="utf-8") as file:
        first, second = csv.DictReader(file, strict=True)
    assert first["note"] == FULL.note
    assert first["numbers"] == "Stream 1/5; Stream 2/5"
    assert (first["cost"], first["currency"], first["ink_ml"]) == (
        "7.40",
        "EUR",
        "4.25",
    )
    assert first["printed_at"] == "2024-05-03T12:00:00+02:00"
    assert (second["cost"], second["cause"], second["ink_ml"]) == ("", "", "")


@pytest.mark.parametrize("sign", "=+-@\t\uff1d\uff0b\uff0d\uff20")
def test_no_cell_of_the_table_begins_a_formula(journal, tmp_path, sign):
    """OWASP, CSV Injection (from memory): = + - @ tab and carriage return."""
    note = f"{sign}HYPERLINK(1)"
    journal.add(replace(FULL, note=note, plan_id=note), noted_at=NOON)
    journal.add(replace(PLAIN, note=f"a{sign}b"), noted_at=NOON)
    target = tmp_path / "prints.csv"
    write_journal_csv(journal.entries(), target)
    with target.open(newline="", encoding="utf-8") as file:
        first, second = csv.DictReader(file)
    assert first["note"] == first["plan_id"] == f"'{note}"
    assert second["note"] == f"a{sign}b"
    assert not [
        cell
        for row in (first, second)
        for cell in row.values()
        if cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    ]
    assert float(first["width_mm"]) == FULL.width_mm
    assert first["entry_id"] == "1"


def test_table_of_nothing_is_its_line_of_names():
    (line,) = journal_csv([]).splitlines()
    assert line.startswith('"entry_id","revision"')
    assert line.count(",") == 6 + len(ENTRY_COLUMNS) - 1


def test_table_replaces_only_an_earlier_table_and_if_asked(journal, tmp_path):
    target, other = tmp_path / "prints.csv", tmp_path / "other.csv"
    other.write_text("a,b\n1,2\n")
    write_journal_csv(journal.entries(), target)
    with pytest.raises(RecordError, match=r"another name\. In Python: overwrite=True"):
        write_journal_csv(journal.entries(), target)
    journal.add(PLAIN, noted_at=NOON)
    write_journal_csv(journal.entries(), target, overwrite=True)
    assert len(target.read_text().splitlines()) == 2
    with pytest.raises(RecordError, match="Choose another name"):
        write_journal_csv(journal.entries(), other, overwrite=True)
    assert other.read_text() == "a,b\n1,2\n"


def test_journal_itself_is_never_replaced_by_a_table(path):
    before = path.read_bytes()
    with read_journal(path) as journal:
        entries = journal.entries()
    with pytest.raises(RecordError, match="Choose another name"):
        write_journal_csv(entries, path, overwrite=True)
    assert path.read_bytes() == before


def test_tables_are_as_strict_as_sqlite_can_from_a_certain_version_on():
    """SQLite, STRICT Tables: since 3.37.0."""
    assert journal_file.OLDEST_SQLITE == (3, 37, 0)


def test_no_waste_is_nothing_of_anything():
    assert waste([]) == Waste(prints=0, cost={}, prints_without_cost=0)
    assert Waste().prints_without_cost == 0
