"""Closed forms of a sharpened Gaussian edge, which predictions are held to."""

from math import inf, log, sqrt

import numpy as np
from scipy.special import ndtr

from printplan.errors import SpecError
from printplan.sharpening.kernel import gaussian_kernel
from printplan.validation import LARGEST, require, require_numbers


def gaussian_overshoot(*, gain, radius, softness):
    """
    Overshoot of a Gaussian edge after unsharp masking, as a share of its height.

    Radius and softness are standard deviations of the mask and of the edge; spread by
    paper adds to the latter in squares. The edge is (1 + A) Φ(x/σ) − A Φ(x/τ) with
    τ² = σ² + r². Its slope is 0 where the two bells are equal, which a logarithm
    solves. Both kernels are continuous here; `sharpened_edge` has the discrete one.
    """
    if not (inf > radius > 0 and inf > softness > 0 and inf > gain >= 0):
        raise SpecError(
            f"Gain is {gain:g}, radius {radius:g} and softness {softness:g}.",
            remedy="Give a gain of 0 or more, and a radius and a softness above 0.",
        )
    if gain == 0:
        return 0.0
    wide = sqrt(softness**2 + radius**2)
    steepness = log((1 + gain) * wide / (gain * softness))
    peak = sqrt(2 * steepness / (1 / softness**2 - 1 / wide**2))
    return float((1 + gain) * ndtr(peak / softness) - gain * ndtr(peak / wide) - 1)


def sharpened_edge(position_px, *, edge_sigma_px, gain, radius_px):
    """
    Profile of a Gaussian edge after unsharp masking with the discrete kernel.

    0 far on the dark side and 1 far on the light side, at every place that a pixel can
    have on the edge: the edge Φ(x/σ) less the kernel's weighted sum of shifted ones.
    """
    require("Softness", edge_sigma_px, 1e-3, 1000, "px")
    require("Sharpening gain", gain, 0, 100, "(no unit)")
    require_numbers("Positions", position_px, -LARGEST, LARGEST, "px")
    kernel = gaussian_kernel(radius_px)
    reach = kernel.size // 2
    shifted = position_px[..., np.newaxis] - np.arange(-reach, reach + 1)
    edge = ndtr(position_px / edge_sigma_px)
    return edge + gain * (edge - ndtr(shifted / edge_sigma_px) @ kernel)
