"""Nothing that was kept is lost, whenever a writer is killed."""

import json
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from journal_writers import lost_of

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("journal kills")]

KILLS = 200
DRIVER = Path(__file__).parent / "journal_writers.py"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("kills")


@pytest.fixture(scope="module")
def report(folder):
    done = subprocess.run(
        [sys.executable, "-W", "error", str(DRIVER), str(folder), str(KILLS)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    return json.loads(done.stdout)


def test_no_kept_print_is_lost_by_200_kills(report):
    """Two writers at once; after each kill the file is opened and is sound."""
    assert report["kills"] == KILLS
    assert report["lost"] == []
    assert report["writes told to be kept"] > KILLS


def test_kills_came_in_the_middle_of_writes(report):
    """A kill between two writes would prove nothing."""
    assert report["of these in the middle of a write"] > KILLS / 4


def test_records_are_whole_and_numbers_without_a_gap(report):
    assert report["records whole"] == report["entries"]
    assert report["numbers in order without a gap"]
    assert report["edition numbers"] > 20


@pytest.mark.usefixtures("report")
def test_file_is_sound_in_sqlites_own_judgement(folder):
    with closing(sqlite3.connect(folder / "journal.db")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


@pytest.mark.usefixtures("report")
def test_lost_print_would_be_found(folder, tmp_path):
    """The judge of the test above, given one print more than there is."""
    forged = tmp_path / "forged.list"
    forged.write_text("kept 1000000 1 a-1-1\n")
    assert lost_of(folder / "journal.db", [forged]) == ["kept 1000000 1 a-1-1"]
