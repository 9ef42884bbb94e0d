"""A simulated row has the edges that it is said to have."""

import numpy as np
import pytest

from printplan.sharpening.simulated_edge import _edge_row


@pytest.mark.parametrize("enlargement", [0.5, 1.0, 2.0])
def test_edges_rise_from_one_tone_to_the_other(enlargement):
    """Half of them stand the other way round, and are read so."""
    row = _edge_row(0.6, enlargement, (20.0, 80.0), 40)
    profile = row.profile(row.start.lightness.ravel())
    far = row.position_px > 6 * max(enlargement, 1.0)
    assert profile[far] == pytest.approx(80.0, abs=0.3)
    assert profile[far[::-1]] == pytest.approx(20.0, abs=0.3)
    # Light is averaged: of Y 0.030 and 0.567 (CIE 15) the mean is L* 61.5, not 50.
    middle = profile[np.argmin(np.abs(row.position_px))]
    assert middle == pytest.approx(61.5, abs=3.0)
