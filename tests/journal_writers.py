"""Two processes write in one journal and are killed, again and again.

    python tests/journal_writers.py FOLDER KILLS [SEED]

Each writer puts down in its own flushed list what it tries and, after it returned,
what it was told is kept. Prints what was found, as JSON.
"""

import json
import os
import signal
import sys
import time
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from random import Random

from printplan.record.journal.entry import Outcome, PrintEntry
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.journal.view import read_journal

MOMENT = datetime(2024, 5, 3, 14, 5, tzinfo=UTC)
EDITION = "Stream"
RECORD = "# the record of a print\n" * 100
SHORTEST_S, LONGEST_S = 0.002, 0.05
FULL_CHECK_EVERY = 20


def entry_of(token):
    return PrintEntry(
        printed_at=MOMENT,
        plan_id=token,
        paper="Fen Cotton 310",
        printer="Studio 24",
        width_mm=360,
        height_mm=240,
        outcome=Outcome.GOOD,
    )


def write_for_ever(path, list_path, name):
    """Add prints with and without a number, and change every fourth."""
    file = os.open(list_path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)

    def put_down(*words):
        os.write(file, (" ".join(map(str, words)) + "\n").encode())
        os.fsync(file)

    count = 0
    with open_journal(path) as journal:
        while True:
            count += 1
            token = f"{name}-{os.getpid()}-{count}"
            put_down("try", token)
            kept = journal.add(
                entry_of(token),
                noted_at=MOMENT,
                record_text=f"{RECORD}{token}",
                edition=EDITION if count % 3 == 0 else "",
            )
            numbers = [number.number for number in kept.numbers]
            put_down("kept", kept.entry_id, 1, token, *numbers)
            if count % 4 == 0:
                put_down("try", "change", token)
                kept = journal.change(
                    kept, kept.entry, changed_at=MOMENT, why=f"again {token}"
                )
                put_down("kept", kept.entry_id, 2, token, *numbers)


def begin_writer(path, list_path, name):
    process = os.fork()
    if process:
        return process
    try:
        write_for_ever(path, list_path, name)
    except BaseException as error:  # noqa: BLE001 - a child must not return
        sys.stderr.write(f"{error!r}\n")
    finally:
        os._exit(1)


def lost_of(path, list_paths):
    """Lines of what was told to be kept and is not there as told."""
    lines = [
        line
        for list_path in list_paths
        for line in list_path.read_text().splitlines()
        if line.startswith("kept")
    ]
    with read_journal(path) as journal:
        standing = {kept.entry_id: kept for kept in journal.entries()}
    lost = []
    for line in lines:
        _, entry_id, revision, token, *numbers = line.split()
        kept = standing.get(int(entry_id))
        if (
            kept is None
            or kept.revision < int(revision)
            or kept.entry.plan_id != token
            or [number.number for number in kept.numbers] != list(map(int, numbers))
        ):
            lost.append(line)
    return lost


@contextmanager
def two_writers(path, lists):
    """Their process numbers, by place; none outlives the block."""
    writers = [begin_writer(path, it, it.stem) for it in lists]
    try:
        yield writers
    finally:
        for writer in writers:
            if writer:
                os.kill(writer, signal.SIGKILL)
                os.waitpid(writer, 0)


def kill_again_and_again(folder, kills, seed):
    path = folder / "journal.db"
    create_journal(
        path,
        started_at=MOMENT,
        fill=lambda journal: journal.open_edition(EDITION, 100_000, opened_at=MOMENT),
    )
    chance = Random(seed)  # noqa: S311 - when to kill, no secret
    lists = [folder / "a.list", folder / "b.list"]
    in_a_write, lost, began_s = 0, [], time.monotonic()
    with two_writers(path, lists) as writers:
        for kill in range(1, kills + 1):
            time.sleep(chance.uniform(SHORTEST_S, LONGEST_S))
            one = int(chance.random() * 2)
            os.kill(writers[one], signal.SIGKILL)
            _, status = os.waitpid(writers[one], 0)
            writers[one] = 0
            if not os.WIFSIGNALED(status):
                sys.exit("a writer ended by itself")
            begun = [it for it in lists if it.exists()]
            if lists[one] in begun:
                last = lists[one].read_text().splitlines()[-1:]
                in_a_write += any(line.startswith("try") for line in last)
            if kill % FULL_CHECK_EVERY == 0:
                lost += lost_of(path, begun)
            else:
                read_journal(path).close()  # sound, while the other one writes
            writers[one] = begin_writer(path, lists[one], lists[one].stem)
    lost += lost_of(path, lists)
    with read_journal(path) as journal:
        entries = journal.entries()
        records = sum(bool(journal.record_text(kept)) for kept in entries)
        numbers = [number.number for number in journal.editions()[0].issued]
    told = sum(text.count("kept") for text in map(Path.read_text, lists))
    return {
        "kills": kills,
        "of these in the middle of a write": in_a_write,
        "writes told to be kept": told,
        "lost": lost,
        "entries": len(entries),
        "records whole": records,
        "edition numbers": len(numbers),
        "numbers in order without a gap": numbers == list(range(1, len(numbers) + 1)),
        "seconds": round(time.monotonic() - began_s, 1),
    }


if __name__ == "__main__":
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    print(json.dumps(kill_again_and_again(Path(sys.argv[1]), int(sys.argv[2]), seed)))
