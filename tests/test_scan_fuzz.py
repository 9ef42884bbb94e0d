"""
A few damaged scans, the same ones each time; more by the program itself.

    python tests/fuzz/scans.py --count 2000
"""

import sys
from importlib import import_module
from pathlib import Path

import pytest

from printplan.pixels.trials.scan_file import read_scan

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="Memory is limited elsewhere."),
]


QUICK_SEED = 92_100


@pytest.fixture
def fuzz(monkeypatch):
    """The program that damages scans, as a module."""
    monkeypatch.syspath_prepend(str(Path(__file__).parent / "fuzz"))
    return import_module("scans")


def test_damaged_scans_are_read_or_refused_in_words(fuzz, tmp_path):
    ends, failures, _ = fuzz.tried(range(QUICK_SEED, QUICK_SEED + 120), tmp_path)
    assert failures == []
    # Both ends are met, or the cases are too tame or too wild to tell anything.
    assert ends["read"] > 10
    assert ends["MasterError"] > 20


def test_every_seed_is_sound(fuzz, tmp_path):
    for number, (data, ending) in enumerate(fuzz.seeds()):
        path = tmp_path / f"{number}{ending}"
        path.write_bytes(data)
        assert read_scan(path).ppi == pytest.approx(1200, rel=1e-4)
