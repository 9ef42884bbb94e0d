"""Lines across an edge: what they read between the pixels of a picture."""

import numpy as np
import pytest
from scipy import ndimage

from printplan.sharpening.edge_lines import ALONG, sampled_across

SHAPE = (90, 120)
OUT = np.arange(-40, 41) * 0.25
EDGES = 500


@pytest.fixture
def picture():
    drawn = np.random.default_rng(3).normal(50, 12, SHAPE)
    return ndimage.gaussian_filter(drawn, 0.8).astype(np.float32)


def on_lines(places, on):
    """Rows and columns of all points."""
    row, column, down, right = places[:, :, None, None]
    on = on[:, None]
    return row + OUT * down - on * right, column + OUT * right + on * down


@pytest.mark.parametrize("order", [0, 3])
def test_lines_in_any_direction_read_what_scipy_reads(picture, order):
    """SciPy computes in double precision, and rounds once, too."""
    rng = np.random.default_rng(order)
    turn = rng.uniform(0, 2 * np.pi, EDGES)
    middle = rng.uniform(16, np.array(SHAPE)[:, None] - 17, (2, EDGES))
    places = np.stack([*middle, np.sin(turn), np.cos(turn)])
    values = picture
    if order == 3:
        values = ndimage.spline_filter(picture, order=3, output=np.float32)
    found = sampled_across(values, places, OUT, ALONG, order)
    expected = ndimage.map_coordinates(
        values, on_lines(places, ALONG), order=order, prefilter=False
    )
    assert found.shape == (EDGES, ALONG.size, OUT.size)
    np.testing.assert_allclose(found, expected, rtol=2**-23)


@pytest.mark.parametrize("order", [0, 3])
def test_border_is_met_at_its_pixels_and_goes_on_beyond(picture, order):
    """A spline runs through its pixels, those of the corners among them."""
    values = picture
    if order == 3:
        values = ndimage.spline_filter(picture, order=3, output=np.float64)
        values = values.astype(np.float32)
    last_row, last_column = np.array(SHAPE) - 1.0
    corners = [[0, 0], [0, last_column], [last_row, 0], [last_row, last_column]]
    places = np.array([[*corner, 0, 1] for corner in corners]).T
    found = sampled_across(values, places, np.arange(-5.0, 6), np.zeros(1), order)
    for (row, column), line in zip(corners, found[:, 0], strict=True):
        columns = np.clip(np.arange(-5, 6) + int(column), 0, SHAPE[1] - 1)
        expected = picture[int(row), columns]
        np.testing.assert_allclose(line, expected, rtol=0, atol=2e-5)
