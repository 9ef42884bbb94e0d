"""Files that the version before wrote are opened, changed and printed again."""

import shutil
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from float64_path import codes, sharpened

from printplan.checks import Level
from printplan.pixels.sheet import varied
from printplan.record.journal.entry import Outcome
from printplan.record.journal.journal import open_journal
from printplan.record.journal.view import read_journal
from printplan.record.paper_book import read_paper_book
from printplan.record.paper_defaults import defaults_path, read_paper_defaults
from printplan.record.paper_measurements import delete_measurement
from printplan.record.plan_file import open_plan, read_plan_file
from printplan.record.record import running_versions
from printplan.record.record_file import parse_record_text, read_record
from printplan.record.reprint import reprint
from printplan.record.trial_key import read_trial_key
from printplan.sizing.boxes import Box
from printplan.spec import Delivery, Extent, FileFormat, Intent, NamedSpace

KEPT = Path(__file__).parent / "data" / "kept"
PAPER, PRINTER = "Lapwing Coated 170", "Studio 24"
PRINTS = {
    "printer-colour": (Delivery.PRINTER_COLOUR, FileFormat.TIFF_8, ".tif"),
    "working-colour": (Delivery.WORKING_COLOUR, FileFormat.PDF, ".pdf"),
    "service": (Delivery.NAMED_SPACE, FileFormat.JPEG, ".jpg"),
}


@pytest.fixture
def kept(tmp_path, fogra39_path):
    """The kept files in a folder of their own, with the profile of the book."""
    folder = tmp_path / "kept"
    shutil.copytree(KEPT, folder)
    shutil.copy(fogra39_path, folder / "press.icc")
    return folder


def test_old_paper_book_opens(kept):
    book = read_paper_book(kept / "paper-book.toml")
    paper = book.paper(PAPER)
    assert book.currency == "EUR"
    assert (paper.psf_sigma_um, paper.thickness_um, paper.drying_h) == (28, 140, 2)
    assert paper.white_lab == (95, 0.5, -2)
    sheets, roll = paper.stock
    assert (sheets.sheet, sheets.sheets_left, sheets.price_each) == ("A4", 20, 1.4)
    assert (roll.roll_width_mm, roll.left_m, roll.currency) == (610, 12.5, "EUR")
    pair = paper.on(book.printer(PRINTER))
    (reading,), (pick,) = pair.spread_readings, pair.restore_picks
    assert (reading.on, reading.sigma_um) == (date(2026, 4, 2), 31.5)
    assert (pick.offered, pick.picked) == ((0.5, 0.75, 1.0), 0.75)


def test_old_paper_book_is_changed_in_place(kept):
    """What a person typed stays; only the measurement that is deleted goes."""
    path = kept / "paper-book.toml"
    book = read_paper_book(path)
    (pick,) = book.paper(PAPER).on(book.printer(PRINTER)).restore_picks
    delete_measurement(path, PAPER, PRINTER, pick)
    after = read_paper_book(path)
    (pair,) = after.paper(PAPER).on_printer
    assert pair.restore_picks == ()
    old = book.paper(PAPER).on_printer[0]
    assert replace(pair, restore_picks=(pick,)) == old
    assert "# typed by hand: the top drawer" in path.read_text()


@pytest.mark.parametrize("name", PRINTS)
def test_old_plan_opens(kept, name):
    colour, file_format, _ = PRINTS[name]
    path = kept / f"{name}.toml"
    spec = read_plan_file(path).spec
    assert (spec.delivery.colour, spec.delivery.file_format) == (colour, file_format)
    assert (spec.size.width_mm, spec.size.ppi) == (60, 150)
    assert (spec.sharpen.gain, spec.sharpen.halo_limit_share) == (0.8, 0.1)
    sheet = open_plan(path)
    with sheet.master:
        assert sheet.plan.paper.name == PAPER


def test_old_plans_keep_what_is_theirs_alone(kept):
    specs = {name: read_plan_file(kept / f"{name}.toml").spec for name in PRINTS}
    assert specs["printer-colour"].delivery.copies == 2
    assert specs["printer-colour"].colour.intent is Intent.PERCEPTUAL
    assert specs["working-colour"].colour.lighten_l == 3
    assert specs["working-colour"].room.illuminance_lx == 300
    assert specs["service"].delivery.named_space is NamedSpace.SRGB
    assert specs["service"].delivery.extent is Extent.PICTURE
    assert specs["service"].mount.mat_opening_width_mm == 52


@pytest.mark.parametrize("name", PRINTS)
def test_old_record_opens(kept, name):
    record = read_record(kept / f"{name}.record.toml")
    assert record.note == "first try"
    assert record.facts.path == str(kept / "master.tif")
    assert record.spec == read_plan_file(kept / f"{name}.toml").spec
    first = record.findings[0]
    assert (first.finding.topic, first.finding.level) == ("enlargement", Level.WARN)
    assert first.done == "Looked at it; it is meant."


@pytest.fixture
def pixels(kept):
    """A sheet in 16 bits, a box of its file, and what the version before made there."""
    old = np.load(kept / "printer-colour-16-bit.npz")
    sheet = open_plan(kept / "printer-colour.toml")
    wish = replace(sheet.plan.spec.delivery, file_format=FileFormat.TIFF_16)
    sheet = varied(sheet, replace(sheet.plan.spec, delivery=wish))
    rows, columns, _ = old["pixels"].shape
    with sheet.master:
        yield (
            sheet,
            Box(int(old["left"]), int(old["top"]), columns, rows),
            old["pixels"],
        )


def test_old_pixels_come_out_again_but_for_their_own_rounding(pixels):
    """
    Regression: 16-bit values of the version before, where it differs most.

    It read lightness and codes from tables with steps by the root of light, one
    3000th of an L* and one code wide; the formulas have none.
    """
    sheet, box, old = pixels
    apart = np.abs(sheet.window(box).astype(int) - old)
    assert apart.max() == 3  # the greatest of 8.7 million values of this print
    assert (apart > 2).sum() == 2
    assert (apart > 0).mean() < 0.01


def test_where_old_pixels_differ_most_the_new_are_right(pixels):
    """
    Double precision, rounded, gives what is printed now where the old is 3 away.

    Everywhere in the box the file is the nearest code but for a tenth: single
    precision keeps a step of 65535 to some hundredths.
    """
    sheet, box, old = pixels
    picture = sheet.plan.picture_in_file
    part = box.common(picture)
    cut = np.s_[
        part.top - box.top : part.bottom - box.top,
        part.left - box.left : part.right - box.left,
    ]
    own = part.moved(-picture.left, -picture.top)
    exact = codes(sheet, sharpened(sheet, own))
    now, before = sheet.window(box)[cut].astype(int), old[cut].astype(int)
    assert np.abs(now - exact).max() < 0.6
    most = np.abs(now - before) == 3
    assert most.sum() == 2
    assert (now[most] == np.rint(exact[most])).all()


@pytest.mark.parametrize("name", PRINTS)
def test_old_record_says_what_has_changed_since(kept, name):
    record = read_record(kept / f"{name}.record.toml")
    again = reprint(record, kept / f"again{PRINTS[name][2]}")
    now = running_versions()
    assert "opencolorio 2.6.0 then, none now" in again.words
    assert f"llvmlite none then, {now.llvmlite} now" in again.words


def test_old_paper_defaults_open(kept):
    path = defaults_path(kept / "paper-book.toml")
    chosen = read_paper_defaults(path, paper=PAPER, printer=PRINTER)
    assert (chosen.ppi, chosen.sheet.feed) == (150, "front slot")
    assert chosen.colour.intent is Intent.PERCEPTUAL
    assert chosen.delivery.file_format is FileFormat.TIFF_8


def test_old_trial_key_opens(kept):
    trial = read_trial_key(kept / "trial.toml")
    assert (trial.paper, trial.printer) == (PAPER, PRINTER)
    assert [patch.sharpen.restore for patch in trial.key.patches] == [0.5, 1.0]
    assert trial.key.squares.tones == (0.1, 0.2, 0.4)


def test_old_journal_opens(kept):
    with read_journal(kept / "journal.db") as journal:
        good, bad = journal.entries()
        (struck,) = journal.struck_entries()
        (edition,) = journal.editions()
        causes = journal.causes()
        history = journal.history(bad.entry_id)
        text = journal.record_text(good)
        assert journal.note() == "One year of an invented studio."
    assert (good.entry.outcome, good.entry.copies) == (Outcome.GOOD, 2)
    # Two sheets at 1.40 EUR, and 2 x 1.5 ml of ink at 0.55 EUR: 4.45 EUR.
    assert (good.entry.cost.amount, good.entry.cost.currency) == (
        Decimal("4.45"),
        "EUR",
    )
    assert (bad.entry.cause, bad.entry.note) == ("torn at the cutter", "second roll")
    assert [it.why for it in history] == ["", "the note was forgotten"]
    assert struck.why == "noted twice"
    assert causes[-1] == "torn at the cutter"
    assert (edition.size, edition.next_number) == (5, 3)
    assert [number.spoiled for number in edition.issued] == ["", "dropped"]
    record = parse_record_text(text, where="journal")
    assert record.rendered.sha256 == good.entry.file_sha256


def test_old_journal_is_written_on(kept):
    with open_journal(kept / "journal.db") as journal:
        good = journal.entries()[0]
        entry = replace(good.entry, note="moved to the stairs")
        when = good.entry.printed_at
        journal.change(good, entry, changed_at=when, why="it hangs elsewhere")
        assert journal.entries()[0].entry.note == "moved to the stairs"
