"""The panel of the file: a print that a service makes, and its order."""

import shutil
from dataclasses import replace

import pytest
from PIL import Image
from recorded_print import small_studio, with_spec

from printplan.media import Service, ServicePaper
from printplan.record.paper_book import read_paper_book, write_paper_book
from printplan.record.plan_file import write_plan_file
from printplan.record.sums import verify_folder
from printplan.spec import Delivery, Extent, NamedSpace, SizeRule, SizeSpec
from printplan.workbook.bench import Bench
from printplan.workbook.panels.finish import FinishPanel

ORDERED = ("Plover Matte 230", "Harbour Prints")
SERVICE = Service(
    name="Harbour Prints",
    papers=(
        ServicePaper(
            name="Plover Matte 230",
            surface="matte",
            weight_gsm=230,
            thickness_um=320,
            psf_sigma_um=45,
        ),
    ),
    ppi=100,
    longest_px=4000,
    jpeg_quality=80,
    bleed_mm=3,
)


@pytest.fixture
def job(studio, textured, tmp_path):
    """A plan of a small master: nothing here depends on what it shows."""
    wish = small_studio(tmp_path, studio, textured[:180, :300])
    # Five by three inches: whole pixels at any whole resolution.
    size = SizeSpec(rule=SizeRule.WIDTH, width_mm=127, ppi=150)
    wish = with_spec(wish, size=size)
    (tmp_path / "job").mkdir()
    path = tmp_path / "job" / "plan.toml"
    write_plan_file(replace(wish, book="../book.toml"), path)
    return path


@pytest.fixture
def panel(job):
    """The panel of a plan whose paper book has a service."""
    book = job.parent.parent / "book.toml"
    written = replace(read_paper_book(book), services=(SERVICE,))
    write_paper_book(written, book, overwrite=True)
    with Bench.open(job) as bench:
        panel = FinishPanel(bench, column_only=True)
        yield panel
        assert panel.settle(120)
        panel.replaced()


def is_shown(control):
    return control.layout.display != "none"


def ordered(panel):
    panel.service.maker.value = ORDERED
    assert panel.message.value == ""
    return panel


def test_service_is_offered_with_its_paper_and_shows_its_limits(panel):
    assert ORDERED in [value for _, value in panel.service.maker.options]
    assert not is_shown(panel.service.order)
    ordered(panel)
    bench = panel.bench
    assert (bench.paper.name, bench.printer.name) == ORDERED
    assert bench.spec.delivery.named_space is NamedSpace.SRGB
    assert bench.spec.delivery.bleed_mm == 3.0
    for words in ("sRGB", "jpeg", "4000 px", "quality 80", "bleed 3 mm"):
        assert words in panel.service.limits.value
    assert is_shown(panel.service.order)
    assert is_shown(panel.service.quality)


def test_back_at_the_studio_the_print_is_as_it_was_made_there(panel):
    before = (panel.bench.paper.name, panel.bench.printer.name)
    ordered(panel)
    panel.service.maker.value = ("", "")
    assert panel.message.value == ""
    bench = panel.bench
    assert (bench.paper.name, bench.printer.name) == before
    assert bench.spec.delivery.colour is Delivery.PRINTER_COLOUR
    assert bench.spec.delivery.extent is Extent.SHEET
    assert not is_shown(panel.service.order)


def test_exact_pixels_bring_their_resolution(panel):
    ordered(panel)
    file = panel.bench.plan.file_box
    wanted = (2 * file.width, 2 * file.height)
    panel.service.exact.value = "{} x {}".format(*wanted)
    made = panel.bench.plan.file_box
    assert panel.message.value == ""
    assert (made.width, made.height) == wanted
    panel.service.exact.value = "square, please"
    assert "Type width × height" in panel.message.value
    panel.service.exact.value = ""
    assert panel.bench.plan.ppi == SERVICE.ppi


def test_order_is_delivered_beside_the_saved_plan(panel):
    ordered(panel)
    panel.service.quality.value = 85
    assert panel.settle(120)
    panel.service.order.click()
    assert panel.settle(120)
    folder = panel.bench.files.plan_path.parent / "plan-order"
    assert "1 print of 1 file" in panel.result.value
    report = verify_folder(folder)
    assert report.is_whole
    with Image.open(folder / "01-plan.jpg") as picture:
        file = panel.bench.plan.file_box
        assert picture.size == (file.width, file.height)
    panel.service.order.click()
    assert panel.settle(120)
    assert folder.with_name("plan-order-2").is_dir()
    shutil.rmtree(folder)
