"""A study from arrays alone runs as a script, and measures what optics say."""

import csv
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

SCRIPT = Path(__file__).parent / "sharpening_study.py"


@pytest.mark.slow
def test_study_measures_the_product_of_edge_paper_and_pixel(tmp_path):
    subprocess.run([sys.executable, SCRIPT, tmp_path], check=True)
    with (tmp_path / "study.csv").open() as file:
        rows = list(csv.DictReader(file))
    # Gaussian edge (0.6 px) and paper (0.05 mm), and the sinc of a pixel of the screen
    # as large as the print's: their product falls to a half here.
    per_mm = np.linspace(0.1, 6, 60_000)
    pixel_mm = 25.4 / 300
    sigma_mm = np.hypot(0.6 * pixel_mm, 0.05)
    left = np.exp(-2 * (np.pi * sigma_mm * per_mm) ** 2) * np.sinc(pixel_mm * per_mm)
    expected = per_mm[(left < 0.5).argmax()]
    for name in {row["kernel"] for row in rows}:
        of_kernel = [row for row in rows if row["kernel"] == name]
        found = [float(row["mtf50_per_mm"]) for row in of_kernel]
        assert [float(row["gain"]) for row in of_kernel] == [0, 0.5, 1, 2]
        assert found[0] == pytest.approx(expected, rel=0.02)
        assert all(less < more for less, more in pairwise(found))
    assert len(SCRIPT.read_text().splitlines()) <= 40
    curves = ET.parse(tmp_path / "study.svg").getroot().iter()  # noqa: S314 - our own
    assert sum(it.tag.endswith("path") for it in curves) > 8
