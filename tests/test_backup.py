"""What is about to change its format is kept as it was, and the copy is checked."""

import sqlite3
from contextlib import closing
from dataclasses import fields, is_dataclass, replace

import pytest

from printplan import checks, media
from printplan.checks import finding
from printplan.errors import RecordError
from printplan.record import backup
from printplan.record.atomic_write import FileHeader, change_text
from printplan.record.backup import keep_journal_before, keep_text_before
from printplan.record.paper_book import BOOK_HEADER
from printplan.record.record_file import RECORD_HEADER
from printplan.spec import FORMERLY

OLD = 'format = "printplan test"\nformat_version = 1\nold_name = 3\n'
NEW = 'format = "printplan test"\nformat_version = 2\nnew_name = 3\n'
KIND = FileHeader(name="printplan test", version=2, heading="For tests.")
DAY = r"\.before-20\d\d-\d\d-\d\d"


def copies(folder):
    return sorted(it for it in folder.iterdir() if ".before-" in it.name)


def test_text_is_kept_before_its_version_is_raised(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text(OLD)
    change_text(path, KIND, lambda _: NEW)
    (kept,) = copies(tmp_path)
    assert kept.read_text() == OLD
    assert path.read_text() == NEW
    change_text(path, KIND, lambda text: text + "more = 1\n")
    assert copies(tmp_path) == [kept]


def test_text_is_kept_before_its_keys_get_the_names_of_today(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text(OLD)
    header = replace(KIND, former_keys=frozenset({"old_name"}))
    change_text(path, header, lambda text: text + "more = 1\n")
    assert copies(tmp_path) == []
    old = path.read_text()
    change_text(path, header, lambda text: text.replace("old_name", "new_name"))
    assert [it.read_text() for it in copies(tmp_path)] == [old]


@pytest.mark.parametrize(
    ("header", "kinds"),
    [
        (BOOK_HEADER, vars(media).values()),
        (RECORD_HEADER, [*vars(checks).values(), *vars(finding).values()]),
    ],
)
def test_every_key_that_had_another_name_is_known(header, kinds):
    former = {
        field.metadata[FORMERLY]
        for kind in kinds
        if isinstance(kind, type) and is_dataclass(kind)
        for field in fields(kind)
        if FORMERLY in field.metadata
    }
    assert former
    assert former <= header.former_keys


def test_no_copy_is_ever_replaced(tmp_path):
    path = tmp_path / "t.toml"
    first = keep_text_before(path, "first")
    second = keep_text_before(path, "second")
    assert keep_text_before(path, "first") == first
    assert second.name == f"{first.name}-2"
    assert [it.read_text() for it in copies(tmp_path)] == ["first", "second"]


def test_without_a_copy_nothing_is_changed(tmp_path, monkeypatch):
    path = tmp_path / "t.toml"
    path.write_text(OLD)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backup, "give_free_name", full)
    with pytest.raises(RecordError, match=r"No copy .* could be made"):
        change_text(path, KIND, lambda _: NEW)
    assert [it.read_text() for it in tmp_path.iterdir()] == [OLD]


@pytest.fixture
def database(tmp_path):
    with closing(sqlite3.connect(tmp_path / "journal.db")) as connection:
        connection.execute("CREATE TABLE a (b)")
        connection.executemany("INSERT INTO a VALUES (?)", [(it,) for it in range(99)])
        connection.commit()
        yield connection


def test_journal_is_kept_with_all_its_rows(tmp_path, database):
    kept = keep_journal_before(database, tmp_path / "journal.db")
    with closing(sqlite3.connect(kept)) as copy:
        assert copy.execute("SELECT sum(b) FROM a").fetchone() == (sum(range(99)),)
    assert len(list(tmp_path.iterdir())) == 2


def test_copy_of_a_journal_that_lacks_a_row_is_thrown_away(
    tmp_path, database, monkeypatch
):
    counts = iter([{"a": 98}, {"a": 99}])
    monkeypatch.setattr(backup, "_row_counts", lambda _: next(counts))
    with pytest.raises(RecordError, match="is not like it; nothing was changed"):
        keep_journal_before(database, tmp_path / "journal.db")
    assert [it.name for it in tmp_path.iterdir()] == ["journal.db"]
