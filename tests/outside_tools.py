"""
Which programs of others do the tests compare with, and where are they missing?

A test that runs one is marked with its name, ``@pytest.mark.tools("qpdf")``. Where
it is not there the test is skipped and says what to install; where
``PRINTPLAN_TESTS_NEED`` is ``all``, as in ``.ci/run``, it fails instead.
"""

import importlib
import os
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

PACKAGES = {
    "transicc": "liblcms2-utils",
    "linkicc": "liblcms2-utils",
    "qpdf": "qpdf",
    "pdfimages": "poppler-utils",
    "pdftoppm": "poppler-utils",
    "pdftotext": "poppler-utils",
    "tiffcp": "libtiff-tools",
    "tiffinfo": "libtiff-tools",
    "dbus-daemon": "dbus",
    "avahi-daemon": "avahi-daemon",
    "ippeveprinter": "cups-ipp-utils",
    "ipptool": "cups-ipp-utils",
    "openssl": "openssl",
    "sha256sum": "coreutils",
}
"""Debian's package of each program."""

PROFILES = "debian-profiles"
"""Stands for the real profiles out of Debian's packages, see `.ci/profiles`."""


def profiles_folder():
    """Where those are, or would be."""
    cache = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    usual = Path(cache) / "printplan-tests" / "profiles-1"
    return Path(os.environ.get("PRINTPLAN_TEST_PROFILES") or usual)


def missing(reason):
    """Skip the test for what is not here, or fail it where all must be."""
    if os.environ.get("PRINTPLAN_TESTS_NEED") == "all":
        pytest.fail(reason, pytrace=False)
    pytest.skip(reason)


_in_use: set[str] = set()


def use(tools):
    """Go on with a test only where the programs that it is marked with are there."""
    _in_use.clear()
    _in_use.update(tools)
    tools = set(tools)
    if PROFILES in tools and not profiles_folder().is_dir():
        missing("no real profiles: bash .ci/profiles")
    absent = [tool for tool in tools - {PROFILES} if shutil.which(tool) is None]
    if absent:
        packages = " ".join(sorted({PACKAGES[tool] for tool in absent}))
        missing(f"{', '.join(absent)} not found: apt-get install {packages}")


def need(*tools):
    """No test runs a program that it is not marked with."""
    unmarked = ", ".join(f'"{tool}"' for tool in tools if tool not in _in_use)
    assert not unmarked, f"Mark this test: @pytest.mark.tools({unmarked})"


def library(name):
    """A library of others that only tests want; None where it is not there."""
    try:
        return importlib.import_module(name)
    except (ImportError, OSError):
        return None


def found(find, *arguments):
    """What is looked for; where it is not found, why not."""
    try:
        return find(*arguments)
    except RuntimeError as error:
        missing(str(error))


def transicc(rows, *arguments):
    """
    Rows of numbers converted by LittleCMS' own command line, a build of its own.

    RGB goes in and comes out as 0 to 255, CMYK in percent, CIELAB as it is.
    """
    need("transicc")
    lines = "\n".join(" ".join(f"{value:.6f}" for value in row) for row in rows)
    done = subprocess.run(
        ["transicc", "-c0", "-n", *map(str, arguments)],
        input=lines,
        capture_output=True,
        text=True,
        check=True,
    )
    return np.array([line.split() for line in done.stdout.splitlines()], float)
