"""Which tests run which lines of the floors under trial?"""

import json
import os
import shutil
import sys
import threading
from collections import defaultdict
from pathlib import Path
from time import process_time

ROOT = Path(__file__).resolve().parents[2]
FLOORS = ("sizing", "sharpening", "colour", "record")


class Reach:
    """A plugin of pytest that notes lines, time and end of each test."""

    def __init__(self, into: Path, studio: Path):
        self.into = into
        self.studio = studio
        self.lines = defaultdict(set)
        self.ours = {}
        self.failed = False

    def trace(self, frame, _event, _argument):
        path = frame.f_code.co_filename
        module = self.ours.get(path)
        if module is None:
            module = self.ours[path] = _module(path)
        if not module:
            return None
        lines = self.lines[module]
        lines.add(frame.f_lineno)

        def local(frame, event, _argument):
            if event == "line":
                lines.add(frame.f_lineno)
            return local

        return local

    def pytest_collection_finish(self, session):
        lend_studio(session, self.studio)

    def pytest_runtest_logreport(self, report):
        self.failed |= report.failed

    def pytest_runtest_protocol(self, item, nextitem):  # noqa: ARG002 - pytest's names
        # A generator would be a wrapper of it; two hooks share the times instead.
        self.lines.clear()
        self.failed, self.start = False, process_time()
        threading.settrace(self.trace)
        sys.settrace(self.trace)

    def pytest_runtest_logfinish(self, nodeid):
        sys.settrace(None)
        threading.settrace(None)
        if not self.lines:
            return
        line = {
            "test": nodeid,
            "s": round(process_time() - self.start, 4),
            "failed": self.failed,
            "lines": {module: sorted(it) for module, it in self.lines.items()},
        }
        with self.into.open("a") as stream:
            stream.write(json.dumps(line) + "\n")


def lend_studio(session, studio):
    """Lay the demo studio where the tests look for it, since to make it takes long."""
    if any("studio" in getattr(it, "fixturenames", ()) for it in session.items):
        # Linked, not copied: what tests write has a new name or replaces a file.
        into = session.config._tmp_path_factory.getbasetemp() / "studio"
        shutil.copytree(studio, into, copy_function=os.link)


def _module(path):
    """Path of a module below the package, or nothing if it is not under trial."""
    file = Path(path)
    if not file.is_relative_to(ROOT / "printplan"):
        return ""
    inside = file.relative_to(ROOT / "printplan")
    return str(inside) if inside.parts[0] in FLOORS else ""
