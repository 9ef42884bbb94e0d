"""What a print asks for of the inks is what stands in its finished file."""

from dataclasses import replace

import numpy as np
import pytest
import tifffile
from recorded_print import recorded, small_studio, with_spec

from printplan.errors import RecordError
from printplan.pixels.ink_load import TOLERANCE, InkLoad, ink_load, mean_coverage
from printplan.pixels.render import render
from printplan.record.plan_file import open_plan_file, read_plan_file
from printplan.record.record_file import parse_record_text, read_record, record_text
from printplan.record.sidecar import write_sidecar_record
from printplan.spec import Delivery, DeliverySpec, NamedSpace


@pytest.fixture(scope="module")
def wish(studio, textured, tmp_path_factory):
    return small_studio(tmp_path_factory.mktemp("studio"), studio, textured)


@pytest.fixture(scope="module")
def record(wish, tmp_path_factory):
    return recorded(wish, tmp_path_factory.mktemp("made") / "print")


def file_load(path, area_m2):
    """The same four numbers from the TIFF alone, pixel by pixel in plain numpy."""
    red, green, blue = np.moveaxis(tifffile.imread(path) / 65535, -1, 0)
    grey = 1 - np.maximum(np.maximum(red, green), blue)
    means = [*(((1 - it) - grey).mean() for it in (red, green, blue)), grey.mean()]
    return np.array(means) * area_m2


def test_load_is_that_of_the_finished_file(record):
    """Its picture is edges, texture and noise, which an overview smooths most."""
    load = record.ink_load
    assert load.driver == "RGB"
    sheet_m2 = record.rendered.width_mm * record.rendered.height_mm / 1e6
    of_file = file_load(record.rendered.path, sheet_m2)
    assert np.abs(np.array(load.solid_m2) - of_file).max() <= TOLERANCE * sheet_m2
    assert of_file.min() > 0.01 * sheet_m2
    # The plan asks for 120 mm; the master of 320 × 210 pixels sets the height.
    assert load.printed_m2 == pytest.approx(0.120 * 0.120 * 210 / 320)


@pytest.mark.slow
def test_load_of_a_photograph_full_of_texture_is_that_of_its_file(studio, tmp_path):
    path = studio.folder / "stream-on-alder-satin.toml"
    wish = read_plan_file(path).resolved(path)
    wish = with_spec(wish, size=replace(wish.spec.size, ppi=150))
    sheet = open_plan_file(wish)
    with sheet.master:
        load = ink_load(sheet)
        made = render(sheet, tmp_path / "print.tif")
    area_m2 = made.width_mm * made.height_mm / 1e6
    off_m2 = np.abs(np.array(load.solid_m2) - file_load(made.path, area_m2))
    assert off_m2.max() <= TOLERANCE * area_m2


def test_file_in_working_colour_asks_for_the_same(wish, record, tmp_path):
    """The print dialogue converts it as the plan says: the same ink in the end."""
    delivery = DeliverySpec(colour=Delivery.WORKING_COLOUR)
    other = recorded(with_spec(wish, delivery=delivery), tmp_path / "print")
    assert other.ink_load.solid_m2 == pytest.approx(record.ink_load.solid_m2, abs=2e-5)


def test_inks_of_a_print_service_are_not_known(wish, tmp_path):
    delivery = DeliverySpec(colour=Delivery.NAMED_SPACE, named_space=NamedSpace.SRGB)
    record = recorded(with_spec(wish, delivery=delivery), tmp_path / "print")
    assert record.ink_load is None
    assert "ink_load" not in record_text(record)


def test_record_keeps_the_load_and_one_of_before_has_none(record):
    kept = read_record(write_sidecar_record(record))
    assert kept.ink_load == record.ink_load
    text = record_text(record)
    before, _, rest = text.partition("[ink_load]")
    older = before + rest[rest.index("[rendered]") :]
    assert parse_record_text(older, where="older").ink_load is None
    assert record_text(replace(record, ink_load=None)) == older


@pytest.mark.parametrize(
    ("space", "device", "coverage"),
    [
        # Shares of ink are taken as they are.
        ("CMYK", [[65535, 0, 0, 0], [0, 0, 0, 65535]], (0.5, 0, 0, 0.5)),
        # ISO 32000-1, 10.3.4: complements, and the grey in common as black.
        ("RGB", [[0, 65535, 65535], [0, 0, 0]], (0.5, 0, 0, 0.5)),
        ("RGB", [[65535, 65535, 65535]], (0, 0, 0, 0)),
        ("GRAY", [[0], [65535]], (0, 0, 0, 0.5)),
    ],
)
def test_coverage_of_single_colours(space, device, coverage):
    pixels = np.array([device], np.uint16)
    assert mean_coverage(pixels, space) == pytest.approx(coverage)


@pytest.mark.parametrize("wrong", [{"cyan_m2": -1.0}, {"printed_m2": 0.0}])
def test_senseless_load_is_refused(wrong):
    sound = dict.fromkeys(("cyan_m2", "magenta_m2", "yellow_m2", "black_m2"), 0.1)
    with pytest.raises(RecordError, match="the ink load out"):
        InkLoad(driver="RGB", **(sound | {"printed_m2": 0.2} | wrong))
