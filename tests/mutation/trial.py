"""Do the tests that reach a changed line notice the change?"""

import ast
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import resource
import select
import shutil
import signal
import sys
import traceback
from collections import defaultdict
from pathlib import Path
from time import monotonic, process_time

import pytest
from mutants import Mutant
from reach import ROOT, lend_studio

COMMON = ["-q", "-x", "-n0", "-p", "no:cacheprovider", "--hypothesis-profile=mutation"]
# The parent holds a plugin's parts already, which pytest would rather import itself.
COMMON += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
# A test that is slower than this is asked last or not at all.
LONGEST_TEST_S = 3.0
# After its seconds a child begins no test; what is then not over this much later is
# taken for a loop without an end.
LONGEST_LOOP_S = 12
# A child's exit status when this program itself is at fault.
NOT_TRIED = 70
# And when no test imported the changed module, such as when another process did.
NOT_USED = 71
# Test files of the first and second round, and their share of the seconds allowed.
ROUNDS = [(3, 0.3), (10, 0.7)]


class Tests:
    """The tests as they were measured: what they reach, and how long they take."""

    def __init__(self, map_path: Path, most_s: float):
        self.most_s = most_s
        self.seconds = {}
        self.by_line = defaultdict(set)
        latest = {}
        for text in map_path.read_text().splitlines():
            line = json.loads(text)
            latest[line["test"]] = line
        self.share = {}
        for test, line in latest.items():
            if line["failed"] or line["s"] > LONGEST_TEST_S:
                continue
            self.seconds[test] = line["s"]
            total = sum(map(len, line["lines"].values()))
            for module, numbers in line["lines"].items():
                self.share[test, module] = len(numbers) / total
                for number in numbers:
                    self.by_line[module, number].add(test)

    def rounds(self, mutant: Mutant, source: str):
        """Lists of tests to run, those first that are quick and of this module."""
        tests = self.reaching(mutant, source)
        plans = ROUNDS
        if not tests:
            # It runs as the module is imported, or in no test that was measured.
            lines = (it for it in self.by_line if it[0] == mutant.module)
            tests = set().union(*(self.by_line[it] for it in lines))
            plans = ROUNDS[:1]
        ranked = sorted(tests, key=lambda it: (self._price(it, mutant.module), it))
        for most_files, share in plans:
            chosen, left = defaultdict(list), share * self.most_s
            for test in ranked:
                file = _file(test)
                if left > 0 and (file in chosen or len(chosen) < most_files):
                    chosen[file].append(test)
                    left -= self.seconds[test]
            # Together by file, since a file's fixtures end with it.
            together = [test for of_file in chosen.values() for test in of_file]
            ranked = [it for it in ranked if it not in set(together)]
            if together:
                yield together, share * self.most_s - left

    def _price(self, test, module):
        return self.seconds[test] / self.share[test, module]

    def reaching(self, mutant: Mutant, source: str):
        module = mutant.module
        lines = range(mutant.line, mutant.last_line + 1)
        if mutant.imported:
            lines = _uses(source, mutant.line)
        return set().union(*(self.by_line[module, it] for it in lines))


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

    def __init__(self, module: str, text: str):
        parts = Path("printplan", module).with_suffix("").parts
        name = ".".join(parts).removesuffix(".__init__")
        super().__init__(name, str(ROOT / "printplan" / module))
        self.text = text
        self.is_used = False

    def find_spec(self, fullname, path=None, target=None):  # noqa: ARG002
        if fullname == self.name:
            return importlib.util.spec_from_file_location(
                fullname, self.path, loader=self
            )
        return None

    def get_code(self, fullname):  # noqa: ARG002 - importlib's name
        self.is_used = True
        return compile(self.text, self.path, "exec", dont_inherit=True)


class Chosen:
    """A plugin of pytest that runs the tests named, in that order."""

    def __init__(self, tests, studio: Path, most_s: float, changed: Changed):
        self.changed = changed
        self.most_s = most_s
        self.order = {test: place for place, test in enumerate(tests)}
        self.studio = studio
        self.noticed = ""

    def pytest_sessionstart(self):
        # From here on pytest would itself import files that it was asked for by name.
        sys.meta_path.remove(self.changed)
        sys.meta_path.insert(0, self.changed)

    def pytest_collection_modifyitems(self, items):
        items[:] = sorted(
            (it for it in items if it.nodeid in self.order),
            key=lambda it: self.order[it.nodeid],
        )

    def pytest_collection_finish(self, session):
        lend_studio(session, self.studio)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_protocol(self):
        # What a fixture costs was told of the first test alone that asked for it.
        return True if process_time() > self.most_s else None

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
        last_s = limit_s + LONGEST_LOOP_S
        resource.setrlimit(resource.RLIMIT_CPU, (last_s, last_s + 5))
        changed = Changed(mutant.module, text)
        _in_child(Chosen(tests, folder / "studio", limit_s, changed), base, told)
    code = _wait(child, limit_s)
    shutil.rmtree(base, ignore_errors=True)
    if code is None:
        return "out of time", ""
    if code == pytest.ExitCode.OK:
        return "not noticed", ""
    if code == NOT_USED:
        return "not reached", ""
    if code in {NOT_TRIED, pytest.ExitCode.NO_TESTS_COLLECTED}:
        return "cannot be tried", ""
    return "noticed", told.read_text() or f"exit {code}"


def _in_child(chosen, base, told):
    code = NOT_TRIED
    try:
        output = os.open(
            chosen.studio.with_name("last-output"),
            os.O_CREAT | os.O_TRUNC | os.O_WRONLY,
        )
        os.dup2(output, 1)
        os.dup2(output, 2)
        sys.meta_path.insert(0, chosen.changed)
        files = list(dict.fromkeys(_file(test) for test in chosen.order))
        code = pytest.main([*COMMON, f"--basetemp={base}", *files], [chosen])
        told.write_text(chosen.noticed)
        if not chosen.changed.is_used:
            code = NOT_USED
    except BaseException:
        traceback.print_exc()
        raise
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _wait(child, limit_s):
    """Exit status of a child, or None if it was ended for its time."""
    handle = os.pidfd_open(child)
    try:
        # Seconds of the processor are what counts; a wait for nothing has none.
        ready, _, _ = select.select([handle], [], [], 6 * (limit_s + LONGEST_LOOP_S))
        if not ready:
            os.killpg(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
    finally:
        os.close(handle)
    code = os.waitstatus_to_exitcode(status)
    return None if not ready or code == -signal.SIGXCPU else code


def try_mutant(mutant: Mutant, text: str, tests: Tests, source: str, folder: Path):
    """One line of results: the change, how it ended, by which test, in how long."""
    start, asked = monotonic(), 0
    end, by = "not reached", ""
    for chosen, seconds in tests.rounds(mutant, source):
        asked += len(chosen)
        limit_s = int(3 + 2 * seconds)
        end, by = run_tests(mutant, text, chosen, folder, limit_s)
        if end == "out of time":
            # So may the tests be without the change.
            end, by = run_tests(mutant, source, chosen, folder, limit_s)
            end = "out of time" if end == "not noticed" else "cannot be tried"
        if end not in {"not noticed", "not reached"}:
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
