"""
Do rendered files have the contrast and the halos that were predicted for them?

A slanted edge of known softness goes through the whole engine, with the sharpening
chosen for a paper, a resolution and a distance, and is measured in the file.
"""

from itertools import product

import numpy as np
import pytest
import tifffile
from scipy import ndimage
from scipy.special import ndtr

from printplan.colour.profiles import open_profile
from printplan.colour.spaces import encode, named_profile
from printplan.colour.transforms import device_to_lab
from printplan.pixels.render import render
from printplan.pixels.sheet import build_sheet
from printplan.sharpening.chain import Chain, response_in_file
from printplan.sharpening.choice import choose_sharpening
from printplan.sharpening.eye import PAPER_WHITE_CD_M2
from printplan.sharpening.response import unsharp_mtf
from printplan.sharpening.slanted_edge import FREQUENCY_CYCLES_PX, edge_sfr
from printplan.spec import Delivery, DeliverySpec, Extent, Intent, NamedSpace
from printplan.units import mm_from_px, px_from_mm

# What the design asks of prediction and measurement.
MTF_ATOL = 0.01
OVERSHOOT_ATOL = 0.005

# Overshoot of single pixels of a reduced edge above their mean. Regression, no
# evidence: up to 0.04 was found.
SINGLE_PIXELS = 0.02

PAPERS = ("Alder Satin 260", "Heron Baryta 315", "Fen Cotton 310")
RESOLUTIONS_PPI = (240.0, 300.0, 360.0, 600.0)
DISTANCES_MM = (300.0, 500.0, 1000.0, 2000.0)
ENLARGEMENTS = (1 / 2, 2 / 3, 1, 3 / 2, 2, 3)

# The print. An edge that leans one column in 18 rows meets the pixels at 18 distances
# in each column, and six times at each: six columns are whole periods of the places
# that a print pixel has between master pixels, for every enlargement here, so their
# mean is what the prediction is of. At 3.2° to the pixels' axes, pixels' kernels differ
# from those across the edge by up to 0.007 of the response.
COLUMNS, ROWS, LEAN = 144, 108, 18
TILT = np.arctan(1 / LEAN)

# Sharpening works on L* and resampling on light. Through a step of 2 L* near L* 50,
# light is within 2 % of a straight line of L*.
LOW, HIGH = 49.0, 51.0


def lightness_of(light):
    """CIE 015:2018, 8.2.1, above L* 8."""
    return 116 * np.cbrt(light) - 16


def light_of(lightness):
    return ((lightness + 16) / 116) ** 3


def slanted_edge(enlargement, edge_sigma_px, levels, rows):
    """16-bit ROMM RGB of an edge that is Gaussian in L*; softness in master pixels."""
    down, across = np.indices((round(rows / enlargement), round(COLUMNS / enlargement)))
    down, across = down - down.mean(), across - across.mean()
    away = across * np.cos(TILT) + down * np.sin(TILT)
    low, high = levels
    lightness = low + (high - low) * ndtr(away / edge_sigma_px)
    code = encode(NamedSpace.ROMM_RGB, light_of(lightness))
    return np.rint(code * 65535).astype(np.uint16)[..., np.newaxis].repeat(3, axis=2)


@pytest.fixture
def printed(master_of, plan_for, studio, tmp_path):
    """One edge in one enlargement, printed as often as wanted."""

    def of(enlargement, edge_sigma_px, levels=(LOW, HIGH), rows=ROWS):
        master = master_of(slanted_edge(enlargement, edge_sigma_px, levels, rows))

        def print_one(
            paper, ppi, distance_mm, delivery=Delivery.WORKING_COLOUR, halo_room=None
        ):
            choice = choose_sharpening(
                paper_psf_sigma_um=studio.book.paper(paper).psf_sigma_um,
                ppi=ppi,
                master_edge_sigma_px=edge_sigma_px * enlargement,
                noise_l=0.0,
                distance_mm=distance_mm,
                enlargement=enlargement,
            )
            plan = plan_for(
                master,
                paper=paper,
                width_mm=mm_from_px(COLUMNS, ppi),
                ppi=ppi,
                gain=choice.gain,
                radius_mm=choice.radius_mm,
                halo_limit_share=None
                if halo_room is None
                else choice.overshoot_in_file + halo_room,
                delivery=DeliverySpec(colour=delivery, extent=Extent.PICTURE),
            )
            assert plan.enlargement == pytest.approx(enlargement, rel=1e-12)
            path = tmp_path / "print.tif"
            render(build_sheet(master, plan), path, overwrite=True)
            profile = (
                open_profile(plan.setup.profile)
                if delivery is Delivery.PRINTER_COLOUR
                else named_profile(NamedSpace.ROMM_RGB)
            )
            codes = tifffile.imread(path)
            lab = device_to_lab(codes, profile, intent=Intent.MEDIA_RELATIVE)
            return choice, lab[..., 0]

        return print_one

    return of


def share_of_step(lightness):
    """0 on the dark side to 1 on the light side."""
    low, high = lightness[:, :20].mean(), lightness[:, -20:].mean()
    return (lightness - low) / (high - low)


def predicted_sfr(choice, ppi, enlargement, edge_sigma_px):
    """Response of master, resampling and sharpening, as the package predicts it."""
    chain = Chain(
        spread=0.0,
        ppi=ppi,
        master_edge_sigma_px=edge_sigma_px * enlargement,
        enlargement=enlargement,
        distance_mm=500.0,
        luminance_cd_m2=PAPER_WHITE_CD_M2,
        lightness_l=50.0,
    )
    before = response_in_file(chain, FREQUENCY_CYCLES_PX, chain.master_edge_sigma_px)
    return before * unsharp_mtf(
        FREQUENCY_CYCLES_PX, gain=choice.gain, blur=choice.radius_px
    )


def across_edge(lightness):
    """
    Profile across the edge in steps of cos(t)/18 px, dark to light.

    All pixels that lie equally far from the edge have one number: 18 times the column
    and the row. Their mean is one place of the profile.
    """
    rows, columns = np.indices(lightness.shape)
    number = (LEAN * columns + rows).ravel()
    counts = np.bincount(number)
    meetings = lightness.shape[0] // LEAN
    return np.bincount(number, lightness.ravel())[counts == meetings] / meetings


def spread_out(profile, spread_px):
    """What paper makes of a profile."""
    steps = spread_px * LEAN / np.cos(TILT)
    return ndimage.gaussian_filter1d(profile, steps, mode="nearest")


def mean_overshoot(share):
    """Mean of both sides, from a profile of 0 to 1."""
    return ((share.max() - 1) - share.min()) / 2


def differences(print_one, studio, cells, paper, enlargement, edge_sigma_px, delivery):
    """Measured less predicted: response, overshoot in the file, overshoot in print."""
    trusted = FREQUENCY_CYCLES_PX <= 0.5
    spread_mm = studio.book.paper(paper).psf_sigma_um / 1000
    found = {}
    for ppi, distance_mm in cells:
        choice, lightness = print_one(paper, ppi, distance_mm, delivery)
        share = share_of_step(lightness)
        # The edge as a reflectance between a quarter and three: it is read as linear.
        measured = edge_sfr(0.25 + 0.5 * share).sfr
        predicted = predicted_sfr(choice, ppi, enlargement, edge_sigma_px)
        in_file = across_edge(share)
        in_print = spread_out(in_file, px_from_mm(spread_mm, ppi))
        found[ppi, distance_mm] = (
            float(np.abs(measured - predicted)[trusted].max()),
            float(mean_overshoot(in_file) - choice.overshoot_in_file),
            float(mean_overshoot(in_print) - choice.overshoot_in_print),
        )
    return found


def assert_as_predicted(found):
    """All cells at once, so that a failure shows where in the grid it lies."""
    wrong = {
        cell: (response, in_file, in_print)
        for cell, (response, in_file, in_print) in found.items()
        if not (
            response <= MTF_ATOL
            and abs(in_file) <= OVERSHOOT_ATOL
            and abs(in_print) <= OVERSHOOT_ATOL
        )
    }
    assert not wrong


@pytest.mark.slow
@pytest.mark.parametrize("enlargement", ENLARGEMENTS, ids="{:.2f}".format)
@pytest.mark.parametrize("paper", PAPERS)
def test_file_has_the_contrast_and_the_halo_predicted(
    printed, studio, paper, enlargement
):
    """A sharp master at four resolutions, sharpened for four distances."""
    edge_sigma_px = 0.6
    found = differences(
        printed(enlargement, edge_sigma_px),
        studio,
        product(RESOLUTIONS_PPI, DISTANCES_MM),
        paper,
        enlargement,
        edge_sigma_px,
        Delivery.WORKING_COLOUR,
    )
    assert len(found) == 16
    assert_as_predicted(found)


@pytest.mark.slow
@pytest.mark.parametrize("enlargement", ENLARGEMENTS, ids="{:.2f}".format)
@pytest.mark.parametrize("paper", PAPERS)
def test_file_of_a_soft_master_is_as_predicted(printed, studio, paper, enlargement):
    """Softer edges ask for wider masks and higher gains."""
    edge_sigma_px = 1.0
    found = differences(
        printed(enlargement, edge_sigma_px),
        studio,
        product((240.0, 600.0), (300.0, 1000.0)),
        paper,
        enlargement,
        edge_sigma_px,
        Delivery.WORKING_COLOUR,
    )
    assert_as_predicted(found)


@pytest.mark.slow
@pytest.mark.parametrize("enlargement", ENLARGEMENTS, ids="{:.2f}".format)
@pytest.mark.parametrize("paper", PAPERS)
def test_printer_colour_keeps_the_contrast_and_the_halo(
    printed, studio, paper, enlargement
):
    """Through the paper's profile, read back as the L* that the paper shows."""
    edge_sigma_px = 0.6
    found = differences(
        printed(enlargement, edge_sigma_px),
        studio,
        product(RESOLUTIONS_PPI, (300.0, 1000.0)),
        paper,
        enlargement,
        edge_sigma_px,
        Delivery.PRINTER_COLOUR,
    )
    assert_as_predicted(found)


def test_nearly_as_many_print_pixels_as_master_pixels_are_as_predicted(printed, studio):
    """At 36 for 35 the places drift slowly; the mean is that of a long edge."""
    rows = 36 * LEAN
    found = differences(
        printed(36 / 35, 0.6, rows=rows),
        studio,
        [(300.0, 400.0)],
        "Fen Cotton 310",
        36 / 35,
        0.6,
        Delivery.WORKING_COLOUR,
    )
    assert_as_predicted(found)


@pytest.mark.parametrize("enlargement", [1 / 2, 2 / 3, 1], ids="{:.2f}".format)
@pytest.mark.parametrize("paper", PAPERS)
def test_halo_limit_above_the_predicted_overshoot_changes_nothing(
    printed, paper, enlargement
):
    """
    Resampled, single print pixels overshoot more than the mean that is predicted.

    What resampling leaves beside an edge counts as halo, so single pixels of a reduced
    edge meet a limit that their mean does not.
    """
    room = 0.005 if enlargement == 1 else SINGLE_PIXELS
    print_one = printed(enlargement, 0.6)
    for ppi, distance_mm in product((240.0, 600.0), (300.0, 1000.0)):
        _, free = print_one(paper, ppi, distance_mm)
        _, limited = print_one(paper, ppi, distance_mm, halo_room=room)
        assert np.array_equal(limited, free)


@pytest.mark.parametrize("ppi", [240.0, 600.0])
@pytest.mark.parametrize("paper", PAPERS)
def test_halo_limit_below_the_predicted_overshoot_holds_it_down(printed, paper, ppi):
    choice, limited = printed(1, 0.6)(paper, ppi, 300.0, halo_room=-0.04)
    held = mean_overshoot(across_edge(share_of_step(limited)))
    expected = choice.overshoot_in_file - 0.04
    assert held == pytest.approx(expected, abs=OVERSHOOT_ATOL)


@pytest.mark.parametrize("enlargement", ENLARGEMENTS, ids="{:.2f}".format)
@pytest.mark.parametrize("paper", PAPERS)
def test_strong_edges_overshoot_more_on_their_dark_side(
    printed, studio, paper, enlargement
):
    """
    How far a prediction for low contrast carries: a step from L* 30 to 70.

    An edge that is even in light, as resampling leaves it, rises most steeply from its
    dark side in L*, and sharpening overshoots most where an edge is steep.
    """
    low, high = 30.0, 70.0
    choice, lightness = printed(enlargement, 0.6, (low, high))(paper, 300.0, 400.0)
    spread_px = px_from_mm(studio.book.paper(paper).psf_sigma_um / 1000, 300.0)
    # Paper spreads light, whatever the step.
    in_print = lightness_of(spread_out(light_of(across_edge(lightness)), spread_px))
    share = (in_print - low) / (high - low)
    light, dark = share.max() - 1, -share.min()
    # Regression, no evidence: -0.018 to 0.005 and -0.011 to 0.042 were found.
    assert light == pytest.approx(choice.overshoot_in_print, abs=0.02)
    assert dark == pytest.approx(choice.overshoot_in_print, abs=0.05)
