"""Every command is killed at a random moment: what is lost, half there, left behind?

    python tests/fuzz/kills.py [--count 300] [--seed 1] [--only NAME …]

A studio is made, and each command run once to its end: its time, and the files that it
makes. Then, again and again, a command is begun in a copy of that studio and killed
(SIGKILL): every other time at a moment drawn from its time, else as soon as the names
in its folders change for the first to fourth time, which is amid a write. Afterwards:

- books, plans, records and masters of before are as before, or as after the whole
  command; the journal is sound and holds what was noted;
- a new file under a final name is whole: it reads, and where the command makes the
  same bytes each time, it is those;
- the next start of a command leaves no half-written file and no lock, and the command
  itself, begun again every fourth time, ends by itself;
- no process that it began runs on, and the doctor finds nothing that is not whole;
- choices of a page that said it had written them are offered back.

Prints a table, and what was wrong; exit 1 if anything was.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import signal
import socket
import sys
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import numpy as np
import pikepdf
import tifffile

import printplan
from printplan.cli import MISTAKE, main
from printplan.colour.spaces import named_profile
from printplan.errors import PrintPlanError
from printplan.free_name import PART_NAME
from printplan.pixels.trials.trial_sheet import TrialSpec, make_trial
from printplan.record.doctor import Health, examine
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.view import read_journal
from printplan.record.noting import note_print
from printplan.record.plan_file import open_plan
from printplan.record.record_file import read_record
from printplan.record.trial_key import SavedTrialKey, read_trial_key, write_trial_key
from printplan.spec import ColourSpec, Intent, NamedSpace, SheetSpec
from printplan.workbook.bench import Bench
from printplan.workbook.panels.journal import _export
from printplan.workbook.unsaved import UnsavedChoices, find_unsaved

PROFILE = Path(__file__).parents[1] / "data" / "FOGRA39L_coated.icc"
BOOK, PLAN, JOURNAL = "paper-book.toml", "jobs/small-print.toml", "journal.db"
PRINT = "jobs/small-print.tif"
RECORD = f"{PRINT}.record.toml"
NOTED = 3
LONGEST_S = 60.0
ORPHANS_S = 10.0
FAULT = 3
"""Exit status of a fault in printplan itself, and of an exception here."""


# What is killed


def cli(*arguments):
    def act():
        sys.argv = ["printplan", *arguments]
        main()

    return act


def note_in_journal():
    record = Path(RECORD)
    entry = entry_from_record(
        read_record(record), printed_at=datetime.now(tz=UTC), outcome="good"
    )
    note_print(Path(JOURNAL).absolute(), entry, record.read_text("utf-8"))


def export_journal():
    _export(Path(JOURNAL).absolute())


def trial_sheet():
    sheet = open_plan(PLAN)
    with sheet.master:
        feed = sheet.plan.feed.name
        spec = TrialSpec(sheet=SheetSpec(media_size="A4", feed=feed))
        trial = make_trial(sheet, [], [], spec)
        printplan.render(trial, "jobs/trial.tif")
        plan = sheet.plan
        paper, printer = plan.paper.name, plan.printer.name
        on = datetime.now(tz=UTC).date()
        saved = SavedTrialKey(key=trial.key, paper=paper, printer=printer, on=on)
    write_trial_key(saved, "jobs/trial.toml")


def page():
    """A page of the workbook on which somebody moves one control after another."""
    with Bench.open(PLAN) as bench:
        unsaved = UnsavedChoices(bench)
        for turn in range(20):
            intent = (Intent.PERCEPTUAL, Intent.SATURATION)[turn % 2]
            bench.change(colour=ColourSpec(intent=intent))
            unsaved.write()
            Path("written").touch()
        Path("written").unlink()
        bench.keep()
        unsaved.write()


def actions(port):
    book, sheet = ("--book", BOOK), ("--sheet", "4x6 in")
    return {
        "new": cli("new", "another"),
        "plan": cli("plan", "masters/small.tif", "--width", "50mm", *sheet),
        "check": cli("check", PLAN),
        "render": cli("render", PLAN, "--decision-sheet"),
        "render over": cli(
            "render", PLAN, "--out", PRINT, "--record", "own.toml", "--overwrite"
        ),
        "reprint": cli("reprint", RECORD),
        "decision sheet": cli("decision-sheet", RECORD, "--out", "jobs/page.pdf"),
        "margin page": cli("margin-page", *book, "--out", "margins.pdf"),
        "add printer": cli("add", "printer", "Other", "--class", "a3+", *book),
        "add paper": cli(
            "add", "paper", str(PROFILE), *book, "--name", "Tarn", "--sheet", "A3"
        ),
        "change": cli("change", "paper", "Fen", "--name", "Moor", *book),
        "trial sheet": trial_sheet,
        "note": note_in_journal,
        "export": export_journal,
        "page": page,
        "send": cli("send", PLAN, "--to", f"ipp://127.0.0.1:{port}/p", "--wait", "0"),
        "doctor": cli("doctor", ".", "--mend"),
    }


PASSING_ENDS = (".lock", ".part", "-journal")
"""What the next start must have taken away, whoever made it."""

ENDLESS = {"send"}
"""The printer that is asked never answers: it is only ever killed."""


# Running and killing


@dataclass
class Run:
    status: int | None  # None if it was killed
    took_s: float
    orphans: bool


@dataclass
class Moment:
    """When to kill: after a time, or at a change of what lies in the folders."""

    after_s: float
    at_change: int = 0  # which one; 0 for none

    def has_come(self, began_s, changes):
        if self.at_change and changes >= self.at_change:
            return True
        return time.monotonic() - began_s > self.after_s


def listing(folder):
    """Names where a command writes; the hidden ones, too."""
    found = []
    for place in (folder, folder / "jobs", folder / "another"):
        if place.is_dir():
            found += sorted(it.name for it in place.iterdir())
    return found


def run(act, folder, *, kill=None):
    """Do something in a process of its own, in a folder."""
    kill = kill or Moment(LONGEST_S)
    seen, changes = listing(folder), 0
    began_s = time.monotonic()
    process = os.fork()
    if process == 0:
        _in_child(act, folder)
    status, ended = None, False
    while not ended and not kill.has_come(began_s, changes):
        found, code = os.waitpid(process, os.WNOHANG)
        ended = found == process
        if ended:
            status = os.waitstatus_to_exitcode(code)
        elif kill.at_change:
            before, seen = seen, listing(folder)
            changes += seen != before
        else:
            time.sleep(0.0005)
    took_s = time.monotonic() - began_s
    if not ended:
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
    return Run(status, took_s, _run_on(process))


def _in_child(act, folder):
    status = FAULT
    try:
        os.setsid()
        log = os.open(folder.parent / "log", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        nothing = os.open(os.devnull, os.O_RDONLY)
        os.dup2(nothing, 0)
        os.dup2(log, 1)
        os.dup2(log, 2)
        os.chdir(folder)
        os.environ["PRINTPLAN_CACHE"] = str(folder.parent / "cache")
        os.environ["PRINTPLAN_CONFIG"] = str(folder.parent / "config")
        tempfile.tempdir = str(folder.parent / "passing")
        Path(tempfile.tempdir).mkdir(exist_ok=True)
        act()
        status = 0
    except SystemExit as end:
        status = int(end.code or 0)
    except PrintPlanError as error:
        print(error, file=sys.stderr, flush=True)
        status = MISTAKE
    except BaseException as error:  # noqa: BLE001 - it is told in the log
        print(repr(error), file=sys.stderr, flush=True)
    finally:
        sys.stdout.flush()
        os._exit(status)


def _run_on(group):
    """Whether processes that a killed one began still run after a while."""
    until_s = time.monotonic() + ORPHANS_S
    while time.monotonic() < until_s:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return False
        time.sleep(0.01)
    os.killpg(group, signal.SIGKILL)
    return True


def asked(question, folder):
    """The answer of a function that is asked in a process of its own, as JSON."""
    answer = folder.parent / "answer"
    done = run(lambda: answer.write_text(json.dumps(question())), folder)
    if done.status != 0:
        return [f"could not be looked at: {(folder.parent / 'log').read_text()}"]
    return json.loads(answer.read_text())


# The studio


def make_template(folder):
    """A studio with a printer, a paper, a plan, a print and a journal."""
    folder.mkdir(parents=True)

    def begin(*arguments):
        done = run(cli(*arguments), folder)
        assert done.status == 0, (folder.parent / "log").read_text()

    begin("new", ".")
    kind = ("--class", "a3+", "--driver-colour", "cmyk", "--ppi", "100")
    begin("add", "printer", "By the window", *kind, "--book", BOOK)
    begin("add", "paper", str(PROFILE), "--book", BOOK, "--name", "Fen")
    rows, columns = np.mgrid[0:600, 0:900]
    waves = np.sin(rows / 7)[..., None] + np.cos(columns / 5)[..., None]
    pixels = ((waves * [9000, 7000, 5000]) + 32_000).astype(np.uint16)
    tifffile.imwrite(
        folder / "masters" / "small.tif",
        pixels,
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
    )
    begin("plan", "masters/small.tif", "--width", "60mm", "--sheet", "4x6 in")
    (made,) = (folder / "jobs").glob("*.toml")
    made.rename(folder / PLAN)
    begin("render", PLAN)
    for _ in range(NOTED):
        assert run(note_in_journal, folder).status == 0


def files_in(folder):
    return {
        it.relative_to(folder).as_posix(): hashlib.sha256(it.read_bytes()).hexdigest()
        for it in folder.rglob("*")
        if it.is_file() and not it.is_symlink()
    }


# The judge


def is_hidden(name):
    return any(it.startswith(".") for it in Path(name).parts)


CHANGING = (
    ".record.toml",
    "own.toml",
    ".decision.html",
    ".decision.pdf",
    ".pdf",
    ".db",
    ".csv",
)
"""Files that hold the time of their making: they are read, not compared."""


def wrong_with(folder, before, after):
    """What a kill lost or left under a final name; `after` is of the whole command."""
    now = files_in(folder)
    for name, was in before.items():
        if name == JOURNAL or is_hidden(name):
            continue
        if name not in now:
            yield f"{name} is lost"
        elif now[name] not in {was, after.get(name)} and not _reads_anew(folder, name):
            yield f"{name} is neither as before nor as after"
    for name in now.keys() - before.keys():
        # SQLite undoes what it began by its own journal, when the file is next opened.
        if is_hidden(name) or name in {"written", f"{JOURNAL}-journal"}:
            continue
        if name not in after:
            yield f"{name} is no file that the command makes"
        elif now[name] != after[name] and not _reads_anew(folder, name):
            yield f"{name} is not whole"


def _reads_anew(folder, name):
    """Whether a file is one that holds when it was made, and is whole."""
    return name.endswith(CHANGING) and _reads(folder / name)


def _reads(path):
    """Whether a file is whole, as a reader of others or of ours finds."""
    try:
        if path.name.endswith((".record.toml", "own.toml")):
            read_record(path)
        elif path.suffix == ".pdf":
            with pikepdf.open(path) as pdf:
                return len(pdf.pages) > 0
        elif path.suffix == ".html":
            return path.read_text("utf-8").rstrip().endswith("</html>")
        elif path.suffix == ".db":
            with read_journal(path) as journal:
                return not journal.damage()
        elif path.suffix == ".csv":
            return path.read_bytes().endswith(b"\r\n")
        elif path.suffix == ".toml":
            read_trial_key(path)
    except Exception as error:  # noqa: BLE001 - any of them means: not whole
        print(path, error)
        return False
    return True


def journal_now():
    with read_journal(JOURNAL) as journal:
        return [len(journal.entries()), list(journal.damage())]


def offered():
    found = find_unsaved(Path(PLAN).absolute())
    return [] if found is None else [str(found.plan_file.spec.colour.intent)]


def unsound():
    return [
        f"the doctor: {it.health} {it.what} {it.path.name}: {it.words}"
        for it in examine(".")
        if it.health in {Health.BROKEN, Health.LEFT}
    ]


def left_in(folder):
    """Half-written files and locks; of decoded copies, those of the cache."""
    for path in (folder.parent / "passing").glob("printplan-*"):
        yield f"{path.name} was left among passing files"
    for place in (folder, folder.parent / "cache", folder.parent / "config"):
        for path in place.rglob("*"):
            name = path.name
            if PART_NAME.fullmatch(name) or name.endswith(
                (".lock", ".part", "-journal")
            ):
                yield f"{name} was left in {place.name}"


def judge(name, act, folder, before, after, again_too):
    yield from wrong_with(folder, before, after)
    count, damage = asked(journal_now, folder)
    if damage or count not in {NOTED, NOTED + (name == "note")}:
        yield f"the journal holds {count} prints, {damage}"
    if name == "page":
        was_written = (folder / "written").exists()
        (folder / "written").unlink(missing_ok=True)
        found = asked(offered, folder)
        if was_written and not found:
            yield "choices that were written are not offered back"
    # What was begun in a new folder is tidied by what works in that folder.
    if name not in ENDLESS and (again_too or name == "new"):
        again = run(act, folder)
        if again.status not in {0, 1, 2}:
            log = (folder.parent / "log").read_text()
            yield f"begun again it ends in {again.status}: {log}"
        if again.orphans:
            yield "begun again it leaves a process"
    # The next start in the studio's own folder, whatever the command was.
    if run(cli("change", "paper", "Fen", "--in-use", "--book", BOOK), folder).status:
        run(cli("change", "paper", "Moor", "--in-use", "--book", BOOK), folder)
    run(cli("check", "jobs/none.toml"), folder)
    if (folder / f"{JOURNAL}-journal").exists():
        # One of which nothing is to be undone stays until the next print is noted.
        run(note_in_journal, folder)
    yield from left_in(folder)
    yield from asked(unsound, folder)


# The campaign


def campaign(count, seed, *, only=(), report=print):
    """
    Kill so many times; what was wrong, and how often each command was killed.

    Returns
    -------
    tuple of (list of str, dict)
    """
    random = Random(seed)  # noqa: S311 - no secret
    wrong, kills = [], defaultdict(Counter)
    with (
        tempfile.TemporaryDirectory() as scratch,
        socket.create_server(("127.0.0.1", 0)) as silent,
    ):
        root = Path(scratch)
        template = root / "template" / "studio"
        make_template(template)
        before = files_in(template)
        every = actions(silent.getsockname()[1])
        names = [it for it in every if not only or it in only]
        whole = {}
        for name in names:
            folder = copy_of(template, root / "whole", warm=False)
            kill = Moment(3.0) if name in ENDLESS else None
            done = run(every[name], folder, kill=kill)
            if name not in ENDLESS and done.status not in {0, 1}:
                log = (folder.parent / "log").read_text()
                wrong.append(f"{name}: unkilled it ends in {done.status}: {log}")
            whole[name] = (done.took_s, files_in(folder))
            report(f"{name}: {done.took_s:.2f} s")
        for turn in range(count):
            again_too = turn % 4 == 0
            name = names[turn % len(names)]
            took_s, after = whole[name]
            folder = copy_of(template, root / "turn", warm=random.random() < 0.5)
            kill = Moment(random.uniform(0, took_s))
            if turn // len(names) % 2:  # writing takes a small part of the time
                kill = Moment(LONGEST_S / 4, at_change=random.randint(1, 4))
            done = run(every[name], folder, kill=kill)
            kills[name]["amid"] += any(left_in(folder))
            kills[name]["killed" if done.status is None else "ended"] += 1
            found = list(judge(name, every[name], folder, before, after, again_too))
            if done.orphans:
                found.append("a process that it began runs on")
            for it in found:
                wrong.append(f"{name}, turn {turn}: {it}")
                report(wrong[-1])
    return wrong, kills


def copy_of(template, place, *, warm):
    """A studio of its own, with or without the decoded copies of the master."""
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(template, place / "studio")
    # A record names its files by where it lies; the cache is by content.
    if warm and (template.parent / "cache").exists():
        shutil.copytree(template.parent / "cache", place / "cache")
    return place / "studio"


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--count", type=int, default=300)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--only", nargs="*", default=())
    given = options.parse_args()
    began_s = time.monotonic()
    faults, table = campaign(given.count, given.seed, only=given.only)
    print(f"{'command':16}{'killed':>8}{'ended':>8}{'amid a write':>14}")
    for command, counts in table.items():
        told = f"{counts['killed']:8}{counts['ended']:8}{counts['amid']:14}"
        print(f"{command:16}{told}")
    total = sum(it["killed"] for it in table.values())
    print(f"{total} kills in {time.monotonic() - began_s:.0f} s, {len(faults)} faults")
    sys.exit(1 if faults else 0)
