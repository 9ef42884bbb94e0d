"""
A few hundred damaged profiles, the same ones each time; more by the program itself.

    python tests/fuzz/profiles.py --count 3000
"""

import sys
from importlib import import_module
from pathlib import Path

import pytest

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform != "linux", reason="Memory is limited by Linux."),
]


@pytest.fixture
def fuzz(monkeypatch):
    """The program that damages profiles, as a module."""
    monkeypatch.syspath_prepend(str(Path(__file__).parent / "fuzz"))
    return import_module("profiles")


def test_damaged_profiles_are_refused_in_words_or_still_give_pictures(fuzz):
    counted, failures, (slowest_s, _) = fuzz.campaign(300, seed=1, thorough_every=20)
    assert not failures
    # Both ends are met, or the cases are too tame or too wild to tell anything.
    assert counted[fuzz.REFUSED] > 100
    assert counted[fuzz.ACCEPTED] > 50
    assert slowest_s < fuzz.MOST_S


def test_every_seed_is_sound(fuzz):
    for name, data in import_module("profiles_seeds").seeds().items():
        assert fuzz.tried(data, thoroughly=False) == fuzz.ACCEPTED, name
