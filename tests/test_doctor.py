"""The doctor finds what is not whole, clears away what is ours, and touches no more."""

import hashlib
import os
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from recorded_print import recorded, small_studio

from printplan.cli import cli
from printplan.errors import RecordError
from printplan.own_process import this_process
from printplan.record.doctor import Health, examine, mend
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.journal import create_journal
from printplan.record.plan_file import write_plan_file
from printplan.record.record_file import record_text
from printplan.record.sidecar import write_sidecar_record

DEAD = replace(this_process(), started="1xffffffff")


@pytest.fixture(scope="module")
def base(studio, textured, tmp_path_factory):
    """A studio with one of each: book, plan, print, record, journal, choices."""
    folder = tmp_path_factory.mktemp("base") / "studio"
    wish = small_studio(folder, studio, textured)
    write_plan_file(
        replace(wish, master=replace(wish.master, file="master.tif"), book="book.toml"),
        folder / "plan.toml",
    )
    record = recorded(wish, folder / "print")
    write_sidecar_record(record)
    now = datetime.now(tz=UTC)
    note = entry_from_record(record, printed_at=now, outcome="good")
    create_journal(
        folder / "journal.db",
        started_at=now,
        fill=lambda it: it.add(note, noted_at=now, record_text=record_text(record)),
    )
    return folder


@pytest.fixture
def folder(base):
    """The studio itself, which the record names; it is put back afterwards."""
    kept = base.with_name("kept")
    shutil.copytree(base, kept)
    yield base
    shutil.rmtree(base)
    kept.rename(base)


def unsound(folder):
    return {
        (it.what, it.path.name, str(it.health))
        for it in examine(folder)
        if it.health is not Health.WHOLE
    }


def test_sound_studio_is_found_sound(folder):
    before = snapshot(folder)
    found = examine(folder)
    kinds = {it.what for it in found}
    assert kinds >= {"paper book", "plan", "record", "print", "master", "journal"}
    assert "profile" in kinds
    assert {it.health for it in found} == {Health.WHOLE}
    assert snapshot(folder) == before


def snapshot(folder):
    return {
        it: (it.stat().st_mtime_ns, hashlib.sha256(it.read_bytes()).hexdigest())
        for it in folder.rglob("*")
        if it.is_file()
    }


def flip(path):
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


@pytest.mark.parametrize(
    ("what", "name"), [("print", "print.tif"), ("master", "master.tif")]
)
def test_one_bit_of_a_print_or_a_master_is_found(folder, what, name):
    flip(folder / name)
    assert unsound(folder) == {(what, name, "not whole")}


@pytest.mark.parametrize("name", ["print.tif", "master.tif"])
def test_file_that_is_gone_is_worth_knowing(folder, name):
    (folder / name).unlink()
    found = unsound(folder)
    assert (Path(name).stem, name, "worth knowing") in found
    # Without its master the plan cannot be printed, either.
    others = {("plan", "plan.toml", "not whole")} if name == "master.tif" else set()
    assert found - {(Path(name).stem, name, "worth knowing")} == others


@pytest.mark.parametrize(
    ("what", "name"),
    [("plan", "plan.toml"), ("record", "print.tif.record.toml")],
)
def test_damaged_text_is_found(folder, what, name):
    text = (folder / name).read_text()
    (folder / name).write_text(f"{text}\n[half")
    assert (what, name, "not whole") in unsound(folder)


def test_plan_whose_paper_left_the_book_is_found(folder):
    text = (folder / "plan.toml").read_text()
    (folder / "plan.toml").write_text(text.replace("Fen Cotton 310", "Gone"))
    assert unsound(folder) == {("plan", "plan.toml", "not whole")}


def test_record_kept_in_the_journal_is_compared(folder):
    with closing(sqlite3.connect(folder / "journal.db")) as raw, raw:
        guard = "SELECT sql FROM sqlite_schema WHERE name = 'record_keeps_update'"
        (trigger,) = raw.execute(guard).fetchone()
        raw.execute("DROP TRIGGER record_keeps_update")
        raw.execute("UPDATE record SET text = text || '#'")
        raw.execute(trigger)
    assert unsound(folder) == {("journal", "journal.db", "not whole")}


def test_files_of_others_are_passed_over(folder):
    (folder / "notes.toml").write_text("[not toml")
    (folder / "other.db").write_bytes(b"something else" * 100)
    (folder / "letters.txt").write_bytes(b"\xff")
    assert unsound(folder) == set()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="No pipes here.")
def test_pipe_in_the_folder_is_told_and_not_waited_for(folder):
    os.mkfifo(folder / "pipe.toml")
    os.mkfifo(folder / "pipe.db")
    found = unsound(folder)
    assert ("text file", "pipe.toml", "not whole") in found
    (folder / "pipe.toml").unlink()
    (folder / "pipe.db").unlink()


def leave(folder):
    """What a killed process leaves, and what must not be touched."""
    part = folder / f".printplan-{DEAD}-0123456789abcdef.part"
    part.write_bytes(b"half")
    lock = folder / ".book.toml.lock"
    lock.write_text(f"printplan lock {DEAD} here\n")
    living = folder / f".printplan-{this_process()}-0123456789abcdef.part"
    living.write_bytes(b"half")
    unsaved = folder / f".plan.unsaved-{DEAD}.toml"
    shutil.copy(folder / "plan.toml", unsaved)
    return part, lock, living, unsaved


def test_leftovers_are_found_and_cleared_away_and_nothing_else(folder):
    part, lock, living, unsaved = leave(folder)
    found = examine(folder)
    odd = {it.path: it.health for it in found if it.health is not Health.WHOLE}
    assert odd == {part: Health.LEFT, lock: Health.LEFT, unsaved: Health.NOTE}
    assert part.exists()
    flip(folder / "print.tif")
    before = snapshot(folder)
    mended = mend(examine(folder))
    healths = {it.path: it.health for it in mended}
    assert healths[part] == healths[lock] == Health.MENDED
    assert healths[folder / "print.tif"] is Health.BROKEN
    gone = before.keys() - snapshot(folder).keys()
    assert gone == {part, lock}
    assert {it: was for it, was in before.items() if it not in gone} == snapshot(folder)
    assert living.exists()


def test_missing_folder_is_told(tmp_path):
    with pytest.raises(RecordError, match="There is no folder"):
        examine(tmp_path / "none")


def test_command_ends_in_a_table_and_a_status(folder):
    def run(*more):
        return CliRunner().invoke(cli, ["doctor", str(folder), *more])

    sound = run()
    assert sound.exit_code == 0
    table = sound.output.splitlines()
    assert table[0].split()[0] == "what"
    assert [line for line in table if line.split()[:2] == ["print", "1"]]
    leave(folder)
    left = run()
    assert left.exit_code == 1
    assert left.output.splitlines()[-1].endswith("--mend.")
    mended = run("--mend")
    assert mended.exit_code == 0
    assert "mended: lock" in mended.output
    flip(folder / "master.tif")
    broken = run("--mend")
    assert broken.exit_code == 1
    assert "not whole: master" in broken.output
