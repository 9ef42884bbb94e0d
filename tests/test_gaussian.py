"""A plane through a Gaussian: smoothed and sloped as by SciPy, and by hand."""

import numpy as np
import pytest
from scipy import ndimage

from printplan.sharpening.gaussian import blurred_by, slopes, smoothed

SIGMAS = [0.3, 0.8, 1.0, 2.7, 6.0]


@pytest.fixture(params=[(40, 61), (5, 300), (300, 3), (700, 900)], ids=str)
def plane(request):
    """Some smaller than the kernel, one worked on in parts."""
    return np.random.default_rng(5).normal(50, 15, request.param).astype(np.float32)


def require_alike(found, expected):
    assert found.dtype == np.float32
    # Twice rounded to single precision of values about 50, as SciPy's are.
    np.testing.assert_allclose(found, expected, rtol=0, atol=2e-5)


@pytest.mark.parametrize("sigma_px", SIGMAS)
def test_smoothed_as_scipy_smooths(plane, sigma_px):
    require_alike(smoothed(plane, sigma_px), ndimage.gaussian_filter(plane, sigma_px))


@pytest.mark.parametrize("sigma_px", SIGMAS)
def test_slopes_are_those_of_scipy(plane, sigma_px):
    down, right = slopes(plane, sigma_px)
    require_alike(down, ndimage.gaussian_filter(plane, sigma_px, order=(1, 0)))
    require_alike(right, ndimage.gaussian_filter(plane, sigma_px, order=(0, 1)))


def test_an_even_slope_keeps_its_rise():
    """A straight line stays as it is through any symmetric kernel."""
    rows, columns = np.mgrid[:60, :80].astype(np.float32)
    down, right = slopes(3 * rows - 0.5 * columns, 1.0)
    inner = (slice(8, -8), slice(8, -8))
    # The kernel is cut at four sigmas, which takes a thousandth of the rise.
    np.testing.assert_allclose(down[inner], 3, rtol=2e-3)
    np.testing.assert_allclose(right[inner], -0.5, rtol=2e-3)


@pytest.mark.parametrize(
    "kernel", [[1.0], [0.25, 0.5, 0.25], [-0.1, 0.3, 0.6, 0.3, -0.1]]
)
def test_a_kernel_repeats_the_edges(plane, kernel):
    kernel = np.array(kernel)
    expected = ndimage.correlate1d(plane, kernel, axis=1, mode="nearest")
    expected = ndimage.correlate1d(expected, kernel, axis=0, mode="nearest")
    require_alike(blurred_by(plane, kernel), expected)
