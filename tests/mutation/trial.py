"""Do the tests that reach a changed line notice the change?"""

import ast
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import select
import shutil
import signal
import sys
from collections import defaultdict
from pathlib import Path
from time import monotonic

import pytest
from mutants import Mutant
from reach import ROOT

FAST = "not slow and not browser and not tools"
COMMON = ["-q", "-x", "-n0", "-p", "no:cacheprovider", "--hypothesis-profile=mutation"]
# A test that is slower than this is asked last or not at all.
LONGEST_TEST_S = 3.0
# Files and seconds of tests, as they were measured, of the first and second round.
ROUNDS = [(2, 6.0), (14, 25.0)]


class Tests:
    """The tests as they were measured: what they reach, and how long they take."""

    def __init__(self, map_path: Path):
        self.seconds = {}
        self.by_line = defaultdict(set)
        spread = defaultdict(set)
        latest = {}
        for text in map_path.read_text().splitlines():
            line = json.loads(text)
            latest[line["test"]] = line
        self.known = set(latest)
        for test, line in latest.items():
            if line["failed"] or line["s"] > LONGEST_TEST_S:
                continue
            self.seconds[test] = line["s"]
            for module, numbers in line["lines"].items():
                for number in numbers:
                    self.by_line[module, number].add(test)
                    spread[_file(test)].add((module, number))
        self.share = defaultdict(float)
        for file, lines in spread.items():
            for module, _ in lines:
                self.share[file, module] += 1 / len(lines)

    def rounds(self, mutant: Mutant, source: str):
        """Lists of tests to run, the nearest files first."""
        tests = self.reaching(mutant, source)
        files = defaultdict(list)
        for test in tests:
            files[_file(test)].append(test)
        ranked = sorted(files, key=lambda it: -self.share[it, mutant.module])
        start = 0
        for most_files, most_s in ROUNDS:
            chosen, left = [], most_s
            for file in ranked[start : start + most_files]:
                for test in sorted(files[file], key=self.seconds.get):
                    if left > 0:
                        chosen.append(test)
                        left -= self.seconds[test]
            start += most_files
            if chosen:
                yield chosen, most_s - left

    def reaching(self, mutant: Mutant, source: str):
        module = mutant.module
        lines = range(mutant.line, mutant.last_line + 1)
        if mutant.imported:
            lines = _uses(source, mutant.line)
        found = set().union(*(self.by_line[module, it] for it in lines))
        if mutant.imported and not found:
            found = set().union(
                *(v for (m, _), v in self.by_line.items() if m == module)
            )
        return found


def _file(test):
    return test.split("::")[0]


def _uses(source, line):
    """Lines that use the names which a statement of a module sets."""
    tree = ast.parse(source)
    names = set()
    for node in tree.body:
        if node.lineno <= line <= node.end_lineno:
            names = {
                it.id
                for it in ast.walk(node)
                if isinstance(it, ast.Name) and isinstance(it.ctx, ast.Store)
            }
    return sorted(
        {
            it.lineno
            for it in ast.walk(tree)
            if isinstance(it, ast.Name)
            and isinstance(it.ctx, ast.Load)
            and it.id in names
        }
    )


class Changed(importlib.abc.MetaPathFinder, importlib.machinery.SourceFileLoader):
    """Import of one module from changed text; its file stays as it is."""

    def __init__(self, name: str, path: Path, text: str):
        super().__init__(name, str(path))
        self.text = text

    def find_spec(self, fullname, path=None, target=None):  # noqa: ARG002
        if fullname == self.name:
            return importlib.util.spec_from_file_location(
                fullname, self.path, loader=self
            )
        return None

    def get_code(self, fullname):  # noqa: ARG002 - importlib's name
        return compile(self.text, self.path, "exec", dont_inherit=True)


class Chosen:
    """A plugin of pytest that runs the tests named, in that order."""

    def __init__(self, tests, studio: Path):
        self.order = {test: place for place, test in enumerate(tests)}
        self.studio = studio
        self.noticed = ""

    def pytest_collection_modifyitems(self, items):
        items[:] = sorted(
            (it for it in items if it.nodeid in self.order),
            key=lambda it: self.order[it.nodeid],
        )

    def pytest_collection_finish(self, session):
        if any("studio" in getattr(it, "fixturenames", ()) for it in session.items):
            # Linked, not copied: what tests write has a new name or replaces a file.
            into = session.config._tmp_path_factory.getbasetemp() / "studio"
            shutil.copytree(self.studio, into, copy_function=os.link)

    def pytest_runtest_logreport(self, report):
        if report.failed and not self.noticed:
            self.noticed = report.nodeid


def run_tests(mutant: Mutant, text: str, tests, folder: Path, limit_s: float):
    """
    Run tests on a changed module in a process of their own.

    Returns
    -------
    tuple of str
        How it ended, of *noticed*, *not noticed*, *out of time* and *cannot be tried*;
        and the test that failed.
    """
    base = folder / f"base-{os.getpid()}"
    told = folder / f"told-{os.getpid()}"
    told.write_text("")
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        _in_child(mutant, text, tests, folder, base, told)
    code = _wait(child, limit_s)
    shutil.rmtree(base, ignore_errors=True)
    if code is None:
        return "out of time", ""
    if code == pytest.ExitCode.OK:
        return "not noticed", ""
    if code == pytest.ExitCode.NO_TESTS_COLLECTED:
        return "cannot be tried", ""
    return "noticed", told.read_text() or f"exit {code}"


def _in_child(mutant, text, tests, folder, base, told):
    code = 3
    try:
        output = os.open(folder / "last-output", os.O_CREAT | os.O_TRUNC | os.O_WRONLY)
        os.dup2(output, 1)
        os.dup2(output, 2)
        path = ROOT / "printplan" / mutant.module
        name = ".".join(("printplan", *Path(mutant.module).with_suffix("").parts))
        sys.meta_path.insert(0, Changed(name.removesuffix(".__init__"), path, text))
        chosen = Chosen(tests, folder / "studio")
        files = list(dict.fromkeys(_file(test) for test in tests))
        code = pytest.main(
            [*COMMON, "-m", FAST, f"--basetemp={base}", *files], [chosen]
        )
        told.write_text(chosen.noticed)
    finally:
        os._exit(code)


def _wait(child, limit_s):
    """Exit status of a child, or None if it was ended for its time."""
    handle = os.pidfd_open(child)
    try:
        ready, _, _ = select.select([handle], [], [], limit_s)
        if not ready:
            os.killpg(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
    finally:
        os.close(handle)
    if not ready:
        return None
    return os.waitstatus_to_exitcode(status)


def try_mutant(mutant: Mutant, text: str, tests: Tests, source: str, folder: Path):
    """One line of results: the change, how it ended, by which test, in how long."""
    start, asked = monotonic(), 0
    end, by = "not reached", ""
    for chosen, seconds in tests.rounds(mutant, source):
        asked += len(chosen)
        # The machine may be busy, and a change may make a loop a little longer.
        end, by = run_tests(mutant, text, chosen, folder, 40 + 8 * seconds)
        if end != "not noticed":
            break
    return {
        "module": mutant.module,
        "line": mutant.line,
        "text": source.splitlines()[mutant.line - 1].strip(),
        "change": mutant.change,
        "end": end,
        "by": by,
        "tests": asked,
        "s": round(monotonic() - start, 2),
    }
