"""A real press condition: the profile against the patches it was made from."""

import csv
from pathlib import Path

import numpy as np
import pytest

from printplan.colour.difference import delta_e_2000
from printplan.colour.transforms import device_to_lab
from printplan.spec import Intent


@pytest.fixture(scope="module")
def patches():
    """Ink percentages and measured CIELAB of 1617 patches."""
    path = Path(__file__).parent / "data" / "fogra39l.csv"
    lines = [
        line
        for line in path.read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    ]
    rows = np.array([list(row.values()) for row in csv.DictReader(lines)], float)
    return rows[:, :4], rows[:, 4:]


def printed(inks_percent, profile):
    codes = np.rint(np.asarray(inks_percent) / 100 * 65535).astype(np.uint16)
    return device_to_lab(codes[None], profile, intent=Intent.ICC_ABSOLUTE)[0]


def test_all_patches_are_predicted(patches, fogra39):
    inks, measured = patches
    assert len(inks) == 1617
    difference = delta_e_2000(printed(inks, fogra39), measured)
    # FOGRA39L characterization data, Fogra 2006. The profile smooths and its tables
    # have 9 points an axis; an earlier comparison found these bounds.
    assert difference.mean() <= 0.20
    assert difference.max() <= 0.70


def test_paper_and_solid_black_are_the_published_ones(fogra39):
    # FOGRA39L: paper 95, 0, -2; solid black 16, 0, 0.
    paper, black = printed([[0, 0, 0, 0], [0, 0, 0, 100]], fogra39)
    assert paper == pytest.approx([95, 0, -2], abs=0.1)
    assert black == pytest.approx([16, 0, 0], abs=0.1)
