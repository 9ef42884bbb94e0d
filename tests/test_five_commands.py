"""From an empty folder to a finished file with its record and decision sheet."""

import hashlib
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner
from ipp_printers import needs_printer, real_printer, service_discovery

from printplan.cli import cli
from printplan.record.paper_book import read_paper_book
from printplan.record.record_file import read_record

HERE = Path(__file__).parent
PHOTOGRAPH = HERE / "data" / "photographs" / "meadow.jpg"
FOGRA39 = HERE / "data" / "FOGRA39L_coated.icc"


@pytest.fixture
def said(tmp_path, monkeypatch):
    """Run a command in the folder, and give what it said."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments, status=0):
        result = CliRunner().invoke(cli, [str(it) for it in arguments])
        assert result.exit_code == status, (result.output, result.exception)
        return result.output

    return run


@pytest.fixture
def ipp_address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("printer")
    with service_discovery(folder) as env, real_printer(folder, env) as made:
        yield made.uri


def finished(said, printer_options, profile, *, channels):
    """Five commands, and what they leave."""
    said("new", "studio")
    book = Path("studio/paper-book.toml")
    said("add", "printer", "By the window", "--book", book, *printer_options)
    said("add", "paper", profile, "--book", book, "--name", "Fen", "--sheet", "A4")
    master = Path("studio/masters/meadow.jpg")
    shutil.copy(PHOTOGRAPH, master)
    before = hashlib.sha256(master.read_bytes()).hexdigest()
    planned = said("plan", master, "--width", "6in", "--assume-profile", "srgb")
    (plan,) = Path("studio/jobs").glob("*.toml")
    assert str(plan) in planned
    made = said("render", plan, "--decision-sheet")
    assert hashlib.sha256(master.read_bytes()).hexdigest() == before
    (file,) = Path("studio/jobs").glob("*.tif")
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    assert digest in made
    (record,) = Path("studio/jobs").glob("*.record.toml")
    kept = read_record(record)
    assert kept.rendered.sha256 == digest
    endings = {"".join(it.suffixes[-2:]) for it in Path("studio/jobs").iterdir()}
    assert {".decision.html", ".decision.pdf"} <= endings
    with tifffile.TiffFile(file) as tiff:
        page = tiff.pages[0]
        assert page.samplesperpixel == channels
        ppi = page.tags["XResolution"].value
        ppi = ppi[0] / ppi[1]
        pixels = page.asarray()
        assert page.tags["InterColorProfile"].value == Path(profile).read_bytes()
    # The sheet is A4, ISO 216; the picture is 6 inches wide and not one value.
    assert sorted(np.array(pixels.shape[:2]) / ppi * 25.4) == pytest.approx(
        [210, 297], abs=0.1
    )
    assert np.ptp(pixels) > np.iinfo(pixels.dtype).max / 3
    return planned, kept


@pytest.mark.slow
def test_cmyk_paper_and_a_printer_whose_driver_takes_cmyk(said):
    """A characterization of a printing condition: Fogra39, by its makers' data."""
    _, kept = finished(
        said, ("--class", "a3+", "--driver-colour", "cmyk"), FOGRA39, channels=4
    )
    assert kept.profile.description


def test_profile_for_other_colours_than_the_driver_s_is_refused(said):
    said("new", "studio")
    book = Path("studio/paper-book.toml")
    said("add", "printer", "By the window", "--book", book, "--class", "a3+")
    text = book.read_text()
    result = CliRunner().invoke(
        cli, ["add", "paper", str(FOGRA39), "--book", str(book), "--name", "Fen"]
    )
    assert result.exception is not None
    assert "CMYK" in str(result.exception)
    assert book.read_text() == text


@pytest.mark.slow
def test_many_plans_end_in_one_table(said, studio):
    finished(
        said,
        ("--class", "17in"),
        studio.folder / "profiles" / "fen-cotton-310.icc",
        channels=3,
    )
    (plan,) = (
        it for it in Path("studio/jobs").glob("*.toml") if ".record" not in it.name
    )
    other = plan.with_name("other.toml")
    other.write_text(plan.read_text().replace("152.4", "100"))
    broken = plan.with_name("broken.toml")
    broken.write_text("no plan = [")
    table = said("check", plan, broken, other, status=2)
    rows = [line for line in table.splitlines() if line.startswith("studio")]
    assert len(rows) == 3
    assert "failed: " in rows[1]
    assert "100.0 × " in rows[2]
    table = said("render", plan, broken, other, status=2)
    assert Path("studio/jobs/other.tif").exists()
    # The file of before stays: the next free name is taken.
    assert Path(f"{plan.with_suffix('')}-2.tif").exists()
    assert len(re.findall(r"\.tif", table)) == 2


def test_render_of_several_plans_takes_no_single_name():
    result = CliRunner().invoke(cli, ["render", "a.toml", "b.toml", "--out", "c.tif"])
    assert "Leave --out away" in str(result.exception)


@pytest.mark.slow
@needs_printer
def test_a_printer_that_answers_by_itself(said, ipp_address, studio):
    _, kept = finished(
        said,
        ("--from", ipp_address),
        studio.folder / "profiles" / "curlew-matte-200.icc",
        channels=3,
    )
    book = read_paper_book("studio/paper-book.toml")
    assert book.printers[0].ipp_address == ipp_address
    assert kept.printer.name == "By the window"
