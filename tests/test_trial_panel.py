"""A trial sheet by hand: what the panel writes is what the functions write."""

import os
import shutil
import sys
from dataclasses import replace
from datetime import date, timedelta
from hashlib import sha256

import pytest
import tifffile

from printplan.demo.invented_scan import make_invented_scan
from printplan.errors import RecordError, SpecError
from printplan.pixels.look_here import look_here
from printplan.pixels.picture_content import picture_content
from printplan.pixels.render import render
from printplan.pixels.sharpening import chosen_sharpening
from printplan.pixels.trials.scan import spread_from_scan
from printplan.pixels.trials.trial_sheet import TrialSpec, make_trial, restore_ladder
from printplan.record.paper_book import read_paper_book, write_paper_book
from printplan.record.plan_file import open_plan, read_plan_file, write_plan_file
from printplan.record.scanner_response import read_response, write_response
from printplan.record.trial_key import read_trial_key, write_trial_key
from printplan.sharpening.calibration import restore_on, spread_on
from printplan.sharpening.response import SpreadCurve
from printplan.spec import SheetSpec
from printplan.workbook.bench import Bench
from printplan.workbook.panels import trial as trial_module
from printplan.workbook.panels.sharpen import SharpenPanel
from printplan.workbook.panels.trial import Part, TrialPanel
from printplan.workbook.record_words import taught_words

# What the design asks of the loop from trial sheet to spread.
SIGMA_RTOL = 0.03
RESTORES = (0.25, 0.5, 0.75, 1.0)
DISTANCE_MM = 450.0


def is_hidden(control):
    return control.layout.display == "none"


def digest(path):
    return sha256(path.read_bytes()).hexdigest()


def fill_in(panel):
    """What a person sets who makes the lesson's sheet."""
    panel.media.value = "A4"
    panel.distance.show_length(DISTANCE_MM, panel.bench.spec.lengths_in)


@pytest.fixture(scope="module")
def folder(studio, tmp_path_factory):
    """A job with a paper book of its own, sharpened by paper, distance and picture."""
    base = tmp_path_factory.mktemp("trial")
    write_paper_book(studio.book, base / "book.toml")
    (base / "job").mkdir()
    wish = read_plan_file(studio.plan_path).resolved(studio.plan_path)
    wish = replace(wish, book="../book.toml")
    path = base / "job" / "plan.toml"
    write_plan_file(wish, path)
    with Bench.open(path) as bench:
        advice = chosen_sharpening(
            bench.plan, picture_content(bench.sheet), distance_mm=DISTANCE_MM
        )
        bench.change(sharpen=advice.spec)
        bench.keep()
    return base


@pytest.fixture(scope="module")
def made(folder):
    """The panel, with which a sheet was made."""
    with Bench.open(folder / "job" / "plan.toml") as bench:
        panel = TrialPanel(bench)
        fill_in(panel)
        panel.lay_out.click()
        assert panel.settle()
        assert panel.message.value == ""
        panel.make.click()
        assert panel.settle()
        assert panel.message.value == ""
    return folder / "job" / "plan-trial.tif", folder / "job" / "plan-trial.toml"


@pytest.fixture(scope="module")
def trial(folder):
    """The same sheet by the functions, as a lesson calls them."""
    sheet = open_plan(folder / "job" / "plan.toml")
    with sheet.master:
        places = look_here(sheet, sheet.overview(1200))
        steps = restore_ladder(
            sheet, picture_content(sheet), RESTORES, distance_mm=DISTANCE_MM
        )
        a4 = SheetSpec(media_size="A4", feed=sheet.plan.feed.name)
        spec = TrialSpec(
            sheet=a4, patch_width_mm=44, patch_height_mm=33, on=trial_module.today()
        )
        yield make_trial(sheet, steps, [it.box for it in places[-2:]], spec)


@pytest.fixture(scope="module")
def scan(trial, tmp_path_factory):
    """Of a paper that spreads light by 58 µm: invented."""
    path = tmp_path_factory.mktemp("scan") / "scan.tif"
    return make_invented_scan(trial, path, psf_sigma_um=58)


@pytest.fixture
def own(folder, made, tmp_path):
    """A copy of that job, with its sheet, for one test."""
    assert made[1].parent == folder / "job"
    shutil.copytree(folder, tmp_path / "studio")
    return tmp_path / "studio"


@pytest.fixture
def bench(own):
    with Bench.open(own / "job" / "plan.toml") as bench:
        yield bench


@pytest.fixture
def panel(bench):
    return TrialPanel(bench)


@pytest.fixture
def answers(panel):
    return panel.answers


def read(answers, scan):
    answers.scanner.value = "by-file"
    answers.response.path.value = str(scan.response_path)
    answers.response.go.click()
    answers.scan.path.value = str(scan.path)
    answers.scan.go.click()
    assert answers.settle()


# Making a sheet


@pytest.mark.slow
def test_sheet_of_the_panel_is_that_of_the_functions_byte_for_byte(
    made, trial, tmp_path
):
    rendered = render(trial, tmp_path / "by-functions.tif")
    assert digest(made[0]) == digest(rendered.path) == rendered.sha256
    saved = read_trial_key(made[1])
    assert saved.key == trial.key
    assert (saved.paper, saved.printer) == ("Fen Cotton 310", "Studio 24")
    assert saved.on == trial_module.today()


@pytest.mark.slow
def test_nothing_is_written_before_a_person_presses_the_button(panel, own):
    before = sorted(it.name for it in (own / "job").iterdir())
    assert panel.make.disabled
    fill_in(panel)
    panel.lay_out.click()
    assert panel.settle()
    assert not panel.make.disabled
    assert bytes(panel.picture.value[:3]) == b"\xff\xd8\xff"
    assert [it.value for it in panel.places.children][-2:] == [True, True]
    assert sorted(it.name for it in (own / "job").iterdir()) == before


@pytest.mark.slow
def test_a_second_sheet_takes_a_free_name_with_its_key(panel, own):
    fill_in(panel)
    panel.targets.value = "none"
    panel.cover.value = "strip"
    panel.lay_out.click()
    assert panel.settle()
    for box in panel.places.children[:-1]:
        box.value = False
    assert panel.settle()
    panel.make.click()
    assert panel.settle()
    assert panel.message.value == ""
    key = read_trial_key(own / "job" / "plan-trial-2.toml").key
    assert [it.name for it in key.patches] == ["A", "B", "C", "D"]
    assert key.squares is None
    assert panel.answers.trial.value == own / "job" / "plan-trial-2.toml"
    with tifffile.TiffFile(own / "job" / "plan-trial-2.tif") as tiff:
        rows, columns = tiff.pages[0].shape[:2]
    # A strip is as wide as the sheet and not as high.
    assert rows < columns


@pytest.mark.slow
def test_a_changed_plan_makes_the_sheet_one_of_before(panel, bench):
    fill_in(panel)
    panel.lay_out.click()
    assert panel.settle()
    bench.change(size=replace(bench.spec.size, width_mm=200))
    assert panel.make.disabled
    assert "earlier plan" in panel.status.value
    panel.lay_out.click()
    assert panel.settle()
    assert not panel.make.disabled
    assert "verview" in panel.status.value


@pytest.mark.slow
def test_steps_that_would_look_alike_are_refused_with_those_that_differ(panel):
    fill_in(panel)
    panel.restores.value = "0.5, 0.501"
    panel.lay_out.click()
    assert panel.settle()
    assert "would look alike" in panel.message.value
    assert panel.make.disabled


@pytest.mark.slow
def test_a_sheet_that_is_too_small_says_how_many_patches_it_takes(panel):
    fill_in(panel)
    panel.media.value = "A6"
    panel.lay_out.click()
    assert panel.settle()
    assert 'class="printplan-problem"' in panel.message.value
    panel.media.value = "A4"
    assert panel.settle()
    assert panel.message.value == ""
    assert not panel.make.disabled


@pytest.mark.parametrize("typed", ["", "half", "0.5, 0.5"])
def test_steps_that_cannot_be_meant_are_refused_by_the_name_of_their_field(
    typed, panel
):
    panel.restores.value = typed
    panel.lay_out.click()
    assert "restore steps" in panel.message.value


@pytest.mark.slow
def test_without_a_place_there_is_nothing_to_cut(panel):
    fill_in(panel)
    panel.lay_out.click()
    assert panel.settle()
    for box in panel.places.children:
        box.value = False
    assert panel.settle()
    assert "Tick one or more" in panel.message.value
    assert panel.make.disabled


@pytest.mark.slow
def test_a_cancelled_sheet_leaves_neither_file_nor_key(panel, own, monkeypatch):
    def slow(*_, progress):
        while True:  # until the person has had enough
            progress(1, 2)

    monkeypatch.setattr(trial_module, "render", slow)
    fill_in(panel)
    panel.lay_out.click()
    assert panel.settle()
    panel.make.click()
    panel.cancel.click()
    assert panel.settle()
    assert "Cancelled" in panel.result.value
    assert not (own / "job" / "plan-trial-2.toml").exists()
    assert not panel.make.disabled


# Its scan


@pytest.mark.slow
def test_spread_that_made_the_scan_is_read_and_written(answers, own, scan, trial):
    read(answers, scan)
    by_functions = spread_from_scan(
        scan.path, trial.key.squares, scanner_sfr=scan.scanner_sfr
    )
    assert by_functions.words in answers.said.value.replace("&#x27;", "'")
    assert bytes(answers.picture.value[:3]) == b"\xff\xd8\xff"
    answers.note.value = "Invented."
    answers.day.value = date(2026, 3, 2)
    answers.write_reading.click()
    assert answers.settle()
    book = read_paper_book(own / "book.toml")
    setup = book.paper("Fen Cotton 310").on(book.printer("Studio 24"))
    known = spread_on(book.paper("Fen Cotton 310"), setup)
    assert known.sigma_um == pytest.approx(58, rel=SIGMA_RTOL)
    (reading,) = setup.spread_readings
    assert (reading.on, reading.note) == (date(2026, 3, 2), "Invented.")
    assert not reading.includes_scanner
    assert answers.bench.paper == book.paper("Fen Cotton 310")
    assert "chosen anew" in answers.written.value
    assert known.words in answers.words.value


@pytest.mark.slow
def test_choice_follows_what_was_written(bench, panel, answers, scan):
    """A wider spread asks for more; the panel for sharpening says the same."""
    sharpen = SharpenPanel(bench)
    assert sharpen.settle()
    before = bench.spec.sharpen
    read(answers, scan)
    answers.write_reading.click()
    assert answers.settle()
    assert sharpen.settle()
    by_functions = chosen_sharpening(
        bench.plan, picture_content(bench.sheet), distance_mm=DISTANCE_MM
    ).spec
    assert bench.spec.sharpen == by_functions != before
    panel.part.value = Part.PICK
    answers.patch.value = "C1"
    answers.write_pick.click()
    assert answers.settle()
    assert sharpen.settle()
    assert bench.spec.sharpen.restore == 0.75
    assert sharpen.restore.value == 0.75
    assert "1 pick" in answers.words.value


@pytest.mark.slow
def test_what_was_written_is_told_beside_what_was_known(bench, panel, answers, scan):
    """As a lesson shows it; it says what to press while nothing was written."""

    def told():
        lines = taught_words(bench.sheet, before=before).text.splitlines()
        return {line.split(" | ")[0]: line.split(" | ")[1:] for line in lines}

    before = bench.plan
    (nothing,) = told()
    assert 'press "Write into the paper book"' in nothing
    read(answers, scan)
    answers.write_reading.click()
    assert answers.settle()
    estimated, measured = told()["spread (µm)"]
    assert estimated.endswith(", estimated")
    assert float(measured.split(" ± ")[0]) == pytest.approx(58, rel=SIGMA_RTOL)
    assert told()["restore picked"] == ["none", "none"]
    assert spread_on(bench.paper, bench.plan.setup).words in told()
    panel.part.value = Part.PICK
    answers.patch.value = "C1"
    answers.write_pick.click()
    assert answers.settle()
    assert told()["restore picked"][1].startswith("0.75 ± ")
    sharpened = [
        f"gain {it.gain:.2f}, " for it in (before.spec.sharpen, bench.spec.sharpen)
    ]
    assert all(map(str.startswith, told()["sharpening"], sharpened))
    assert sharpened[0] != sharpened[1]


@pytest.mark.slow
def test_without_the_scanners_response_the_reading_only_bounds(answers, scan, own):
    answers.scan.path.value = str(scan.path)
    answers.scan.go.click()
    assert answers.settle()
    assert "only bounds the estimate" in answers.said.value
    answers.write_reading.click()
    assert answers.settle()
    book = read_paper_book(own / "book.toml")
    setup = book.paper("Fen Cotton 310").on(book.printer("Studio 24"))
    assert setup.spread_readings[0].includes_scanner


def test_what_is_no_scan_is_told_and_nothing_can_be_written(answers, own, tmp_path):
    before = digest(own / "book.toml")
    path = tmp_path / "letter.tif"
    path.write_bytes(b"a letter")
    answers.scan.path.value = str(path)
    answers.scan.go.click()
    assert answers.settle()
    assert "not a TIFF, PNG or JPEG" in answers.message.value
    assert answers.write_reading.disabled
    assert digest(own / "book.toml") == before


def test_remedies_name_the_fields_of_the_form(answers, tmp_path):
    """Neither resolution nor profile in the file."""
    path = tmp_path / "scan.tif"
    tifffile.imwrite(path, [[0, 255], [255, 0]], dtype="uint8", metadata=None)
    for field, value in (("", None), ("space", "sRGB")):
        if field:
            answers.space.value = value
        answers.scan.path.value = str(path)
        answers.scan.go.click()
        assert answers.settle()
        told = answers.message.value
        assert "scan_ppi" not in told
        assert "assume_profile" not in told
        assert ("scanned at" if field else "its colours are") in told
    answers.scan_ppi.value = "many"
    answers.scan.go.click()
    assert "scanned at" in answers.message.value


def test_a_day_to_come_is_refused(panel, answers, own):
    before = digest(own / "book.toml")
    panel.part.value = Part.PICK
    answers.day.value = trial_module.today() + timedelta(days=1)
    answers.write_pick.click()
    assert "still to come" in answers.message.value
    assert digest(own / "book.toml") == before


# Its pick


@pytest.mark.slow
def test_a_pick_is_kept_with_its_day_distance_and_note(panel, answers, own):
    panel.part.value = Part.PICK
    assert is_hidden(panel.sheet_part)
    # No sheet is laid out here; the one that was printed lies on the table.
    assert is_hidden(panel.picture)
    assert "on the printed sheet itself" in panel.status.value
    assert [name for _, name in answers.patch.options][:3] == ["A1", "B1", "C1"]
    answers.patch.value = "C1"
    answers.distance.show_length(600, answers.bench.spec.lengths_in)
    answers.day.value = date(2026, 3, 3)
    answers.note.value = "By the window."
    answers.write_pick.click()
    assert answers.settle()
    book = read_paper_book(own / "book.toml")
    setup = book.paper("Fen Cotton 310").on(book.printer("Studio 24"))
    (pick,) = setup.restore_picks
    assert (pick.on, pick.picked, pick.distance_mm, pick.note) == (
        date(2026, 3, 3),
        0.75,
        600,
        "By the window.",
    )
    assert sorted(set(pick.offered)) == list(RESTORES)
    assert restore_on(setup).value == 0.75


def test_sheets_are_listed_with_day_paper_and_printer(answers, own):
    path = own / "job" / "plan-trial.toml"
    ((words, value),) = answers.trial.options
    day = f"{trial_module.today():%Y-%m-%d}"
    assert words == f"{day}, Fen Cotton 310, Studio 24: plan-trial"
    assert value == path
    old = replace(read_trial_key(path), on=None, paper="Heron Baryta 315")
    write_trial_key(old, own / "job" / "older.toml")
    (own / "job" / "broken.toml").write_text('format = "printplan trial key"\n[')
    (own / "job" / "new-scan.png").touch()
    answers.again.click()
    assert "new-scan.png" in answers.scan.entries.options
    assert "Heron Baryta 315, Studio 24: older" in dict(answers.trial.options)
    assert "broken.toml" in answers.message.value


def test_a_pick_for_another_paper_leaves_the_bench_alone(panel, answers, own):
    path = own / "job" / "plan-trial.toml"
    other = replace(read_trial_key(path), paper="Heron Baryta 315")
    write_trial_key(other, own / "job" / "other.toml")
    panel.part.value = Part.PICK
    answers.again.click()
    answers.trial.value = own / "job" / "other.toml"
    before = answers.bench.sheet
    answers.write_pick.click()
    assert answers.settle()
    assert "on another paper" in answers.written.value
    assert answers.bench.sheet is before
    book = read_paper_book(own / "book.toml")
    setup = book.paper("Heron Baryta 315").on(book.printer("Studio 24"))
    assert len(setup.restore_picks) == 1


def test_without_a_sheet_the_panel_says_what_to_do_first(job, tmp_path):
    with Bench.open(job) as bench:
        answers = TrialPanel(bench).answers
        scan = tmp_path / "scan.tif"
        scan.write_bytes(b"")
        answers.scan.path.value = str(scan)
        answers.scan.go.click()
        assert "Render a trial sheet first" in answers.message.value


# The file of a response


def test_a_response_comes_back_from_its_file(tmp_path):
    curve = SpreadCurve(cycles_per_mm=(1.0, 2.5, 20.25), values=(0.99, 0.9, 1 / 3))
    write_response(curve, tmp_path / "scanner.csv")
    assert read_response(tmp_path / "scanner.csv") == curve
    with pytest.raises(RecordError, match="Choose another name"):
        write_response(curve, tmp_path / "scanner.csv")


@pytest.mark.skipif(sys.platform == "win32", reason="Pipes have other names there.")
def test_a_response_that_is_no_file_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    for name, problem in {
        tmp_path / "pipe.csv": "is a pipe",
        "/dev/zero": "is a device",
        f"{tmp_path}/a\0b": "a zero byte",
        tmp_path / "none.csv": "There is no file",
    }.items():
        with pytest.raises(SpecError, match=problem):
            read_response(name)
    (tmp_path / "long.csv").write_bytes(b"1, 1\n" * 300_000)
    with pytest.raises(SpecError, match="longer than 1 MB"):
        read_response(tmp_path / "long.csv")


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("", "Copy or export it again"),
        (" \n", "Write a line"),
        ("1, 2, 3\n4, 5, 6\n", "Write a line"),
        ("1, 2, 3\n", "Write a line"),
        ("frequency, contrast\n", "Write a line"),
        ("2, 0.5\n1, 0.9\n", "Sort them"),
    ],
)
def test_what_is_no_response_is_refused(text, remedy, tmp_path):
    path = tmp_path / "scanner.csv"
    path.write_text(text)
    with pytest.raises(SpecError, match=remedy):
        read_response(path)
