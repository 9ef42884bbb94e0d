"""The demo's scan: invented, marked so, and true to the spread that it was given."""

import pytest
import tifffile

from printplan.demo.invented_scan import OPTICS_UM, WORDS, make_invented_scan
from printplan.errors import RecordError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet
from printplan.pixels.trials.scan import spread_from_scan
from printplan.pixels.trials.scan_file import read_scan
from printplan.pixels.trials.steps import plain_steps
from printplan.pixels.trials.trial_sheet import TrialSpec, TrialTargets, make_trial
from printplan.spec import Delivery, DeliverySpec, FileFormat, SheetSpec

# What the design asks of the loop from trial sheet to spread.
SIGMA_RTOL = 0.03


@pytest.fixture(scope="module")
def trial_of(studio, plan_for):
    """A sheet of targets at some resolution and delivery."""
    with open_master(studio.scenario.seed_heads) as master:

        def make(ppi=300.0, delivery=None, targets=TrialTargets.DRAWN):
            plan = plan_for(master, ppi=ppi, delivery=delivery)
            sheet = build_sheet(master, plan)
            drawn = targets is TrialTargets.DRAWN
            return make_trial(
                sheet,
                [] if drawn else plain_steps(sheet),
                [] if drawn else [plan.picture_in_file],
                TrialSpec(
                    sheet=SheetSpec(media_size="A4", feed=plan.feed.name),
                    targets=targets,
                ),
            )

        yield make


@pytest.fixture(scope="module")
def one_scan(trial_of, tmp_path_factory):
    """One that is 58 µm wide, beside the trial that it shows."""
    trial = trial_of()
    path = tmp_path_factory.mktemp("scan") / "scan.tif"
    return trial, make_invented_scan(trial, path, psf_sigma_um=58)


@pytest.mark.slow
def test_the_spread_that_was_given_comes_back(one_scan):
    trial, scan = one_scan
    reading = spread_from_scan(
        scan.path, trial.key.squares, scanner_sfr=scan.scanner_sfr
    )
    assert reading.fit.sigma_um == pytest.approx(58, rel=SIGMA_RTOL)
    assert reading.fit.unfit_reason == ""
    assert reading.scan_ppi == scan.scan_ppi == 1200


@pytest.mark.slow
def test_without_its_reference_the_scanner_is_in_it(one_scan):
    """Variances add; that of a square sensor pixel is its width squared over 12."""
    trial, scan = one_scan
    reading = spread_from_scan(scan.path, trial.key.squares)
    whole_um = (58**2 + OPTICS_UM**2 + (25400 / 1200) ** 2 / 12) ** 0.5
    assert reading.fit.sigma_um == pytest.approx(whole_um, rel=SIGMA_RTOL)


def test_it_says_that_it_is_invented(one_scan):
    _, scan = one_scan
    with tifffile.TiffFile(scan.path) as tiff:
        assert tiff.pages.first.description == WORDS
    assert "Invented" in WORDS


@pytest.mark.slow
def test_eight_bits_and_another_resolution_print_the_same_squares(trial_of, tmp_path):
    trial = trial_of(360.0, DeliverySpec(file_format=FileFormat.TIFF_8))
    scan = make_invented_scan(trial, tmp_path / "scan.tif", psf_sigma_um=40)
    assert scan.scan_ppi == read_scan(scan.path).ppi == 1440
    reading = spread_from_scan(
        scan.path, trial.key.squares, scanner_sfr=scan.scanner_sfr
    )
    assert reading.fit.sigma_um == pytest.approx(40, rel=SIGMA_RTOL)


def test_a_file_that_is_there_stays(one_scan, tmp_path):
    trial, _ = one_scan
    path = tmp_path / "scan.tif"
    path.write_bytes(b"a real scan")
    with pytest.raises(RecordError, match="Choose another name"):
        make_invented_scan(trial, path, psf_sigma_um=58)
    assert path.read_bytes() == b"a real scan"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_missing_is_told(one_scan, tmp_path):
    trial, _ = one_scan
    with pytest.raises(RecordError, match="may write to"):
        make_invented_scan(trial, tmp_path / "none" / "scan.tif", psf_sigma_um=58)


@pytest.mark.parametrize("psf_sigma_um", [0, 19.9, 201, float("nan")])
def test_a_spread_outside_its_range_is_refused(one_scan, tmp_path, psf_sigma_um):
    trial, _ = one_scan
    with pytest.raises(SpecError, match="Give 20 to 200 µm"):
        make_invented_scan(trial, tmp_path / "scan.tif", psf_sigma_um=psf_sigma_um)


def test_a_sheet_without_squares_is_refused(trial_of, tmp_path):
    trial = trial_of(targets=TrialTargets.NONE)
    with pytest.raises(SpecError, match="no slanted squares"):
        make_invented_scan(trial, tmp_path / "scan.tif", psf_sigma_um=58)


def test_a_sheet_that_is_not_converted_is_refused(trial_of, tmp_path):
    trial = trial_of(delivery=DeliverySpec(colour=Delivery.WORKING_COLOUR))
    with pytest.raises(SpecError, match="Deliver it in printer colour"):
        make_invented_scan(trial, tmp_path / "scan.tif", psf_sigma_um=58)
