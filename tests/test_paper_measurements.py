"""What a print taught stays with its paper, and nothing else in the book changes."""

import subprocess
import sys
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from printplan.errors import PrintPlanError, RecordError, SpecError
from printplan.record.paper_book import read_paper_book
from printplan.record.paper_measurements import (
    delete_measurement,
    save_restore_pick,
    save_spread_reading,
)
from printplan.sharpening.calibration import RestoreTrial, restore_on, spread_on
from printplan.sharpening.paper_spread import SpreadFit
from printplan.sharpening.response import SpreadCurve, spread_mtf

# The studio, its printer, its papers and its scans are invented.
TYPED = """\
# The studio in the mill. Ask before you change this.
format = "printplan paper book"
format_version = 1

[[printer]]     # serviced in May
name = "Studio 24"
black_inks = ["matte black", "photo black"]
input_ppi = [300, 360]
  [[printer.feeds]]
  name = "sheet slot"
  shortest_in = 4          # measured
  longest_mm = 900
  narrowest_mm = 89
  widest_in = 24
  thinnest_um = 80
  thickest_um = 1_500
  margins = { leading_mm = 3, trailing_mm = 14, left_mm = 3, right_mm = 3 }

# ---- matte ----
[[paper]]
name = "Fen Cotton 310"  # lot 7
surface = 'matte'
weight_gsm = 310.0
thickness_um = 5.6e2
psf_sigma_um = 50           # a guess

[[paper.on_printer]]     # the good profile
printer = "Studio 24"
profile = "fen.icc"
black_ink = "matte black"
media_type = "Cotton, thick"
feeds = ["sheet slot"]
# end of matte

# ---- glossy ----
[[paper]]
surface = "gloss"
name = "Tarn Gloss"
weight_gsm = 260
thickness_um = 280
psf_sigma_um = 28
on_printer = []          # not set up yet
# the end
"""
NEXT_PAPER = TYPED[TYPED.index("\n# ---- glossy") :]
FEN = ("Fen Cotton 310", "Studio 24")
FREQUENCY = np.linspace(0, 20, 25)[1:]
FIT = SpreadFit(
    sigma_um=48.123456,
    uncertainty_um=0.91234,
    curve=SpreadCurve(
        cycles_per_mm=tuple(FREQUENCY.tolist()),
        values=tuple(spread_mtf(FREQUENCY, 48.123456).tolist()),
    ),
    residual=0.004,
    n_edges=16,
    unfit_reason="",
)
TRIAL = RestoreTrial(offered=(0.5, 0.75, 1.0, 1.25), picked=0.75)
MAY_3, MAY_4 = date(2026, 5, 3), date(2026, 5, 4)


@pytest.fixture
def typed(tmp_path):
    path = tmp_path / "papers.toml"
    path.write_text(TYPED)
    return path


def fen(path):
    return read_paper_book(path).paper(FEN[0]).on_printer[0]


def scan(path, sigma_um=48.123456, on=MAY_3, **changes):
    fit = replace(FIT, sigma_um=sigma_um)
    return save_spread_reading(path, *FEN, fit, on=on, **{"scan_ppi": 1200} | changes)


def pick(path, on=MAY_3, **changes):
    return save_restore_pick(path, *FEN, TRIAL, on=on, **changes)


def test_what_a_scan_measured_is_there_when_the_book_is_opened_again(typed):
    paper = scan(typed, note="matte black, new nozzles")
    found = read_paper_book(typed).paper("Fen Cotton 310")
    assert found == paper
    (reading,) = found.on_printer[0].spread_readings
    # Four digits are kept; a half of the last one of 1.000 is 5e-4.
    assert reading.sigma_um == pytest.approx(FIT.sigma_um, rel=5e-4)
    assert reading.uncertainty_um == pytest.approx(FIT.uncertainty_um, rel=5e-4)
    assert reading.cycles_per_mm == pytest.approx(FIT.curve.cycles_per_mm, rel=5e-4)
    assert reading.contrast_left == pytest.approx(FIT.curve.values, rel=5e-4)
    assert (reading.on, reading.edges, reading.scan_ppi) == (MAY_3, 16, 1200)
    assert reading.note == "matte black, new nozzles"
    known = spread_on(found, found.on_printer[0])
    assert spread_mtf(FREQUENCY, known.spread) == pytest.approx(
        spread_mtf(FREQUENCY, FIT.sigma_um), abs=2e-3
    )
    assert "measured on 2026-05-03 from 16 edges" in known.words


def test_what_was_picked_is_there_when_the_book_is_opened_again(typed):
    paper = pick(typed, distance_mm=400.0, note="north wall")
    assert read_paper_book(typed).paper("Fen Cotton 310") == paper
    (kept,) = fen(typed).restore_picks
    assert (kept.offered, kept.picked) == (TRIAL.offered, TRIAL.picked)
    assert (kept.on, kept.distance_mm, kept.note) == (MAY_3, 400.0, "north wall")
    assert restore_on(fen(typed)).value == 0.75


def test_day_is_a_day_to_every_reader_of_toml(typed):
    pick(typed)
    assert "\non = 2026-05-03\n" in typed.read_text()


def test_all_that_a_person_typed_stays_where_it_was(typed):
    """The lessons stand below their pair, above the heading of the next paper."""
    for day in (MAY_3, MAY_4):
        scan(typed, on=day)
        pick(typed, on=day)
    text = typed.read_text()
    assert text.startswith(TYPED.removesuffix(NEXT_PAPER))
    assert text.endswith(NEXT_PAPER)
    assert len(fen(typed).spread_readings) == len(fen(typed).restore_picks) == 2
    assert text.count("\n\n[[paper.on_printer.") == 4


def test_comments_in_lessons_stay_when_others_come_and_go(typed):
    scan(typed)
    pick(typed)
    marked = (
        typed.read_text()
        .replace("sigma_um = 48.12 ", "sigma_um = 48.12 # by the new scanner ")
        .replace("[[paper.on_printer.restore", "# by eye:\n[[paper.on_printer.restore")
        .replace("picked = 0.75", "picked = 0.75 # noon light")
    )
    assert marked.count("# by eye:") == marked.count("# noon light") == 1
    typed.write_text(marked)
    scan(typed, 47.0, on=MAY_4)
    pick(typed, on=MAY_4)
    delete_measurement(typed, *FEN, fen(typed).spread_readings[1])
    delete_measurement(typed, *FEN, fen(typed).restore_picks[1])
    assert typed.read_text() == marked


def test_two_scans_of_one_day_are_two(typed):
    scan(typed, 48.0)
    scan(typed, 47.0)
    assert [it.sigma_um for it in fen(typed).spread_readings] == [48.0, 47.0]


def test_notebook_that_runs_again_adds_nothing(typed):
    for _ in range(2):
        scan(typed)
        pick(typed)
    before = typed.read_text()
    scan(typed)
    pick(typed)
    assert typed.read_text() == before
    assert len(fen(typed).spread_readings) == len(fen(typed).restore_picks) == 1


def test_scan_that_is_kept_again_takes_the_newest_note(typed):
    scan(typed, note="lot 7")
    scan(typed, on=MAY_4)
    scan(typed, note="lot 8")
    notes = [(it.on, it.note) for it in fen(typed).spread_readings]
    assert notes == [(MAY_3, "lot 8"), (MAY_4, "")]


def test_two_viewers_who_pick_alike_are_two(typed):
    pick(typed, note="first viewer")
    pick(typed, note="second viewer")
    assert restore_on(fen(typed)).count == 2


PARTIAL = replace(FIT, unfit_reason="1 of 17 edges left out. The edge is clipped.")


def test_scan_that_left_edges_out_is_kept_only_if_permitted(typed):
    with pytest.raises(SpecError, match=r"1 of 17 edges left out.*edges_left_out=True"):
        save_spread_reading(typed, *FEN, PARTIAL, on=MAY_3, scan_ppi=1200)
    assert typed.read_text() == TYPED
    save_spread_reading(
        typed,
        *FEN,
        PARTIAL,
        on=MAY_3,
        scan_ppi=1200,
        note="thumb print.",
        edges_left_out=True,
    )
    (reading,) = fen(typed).spread_readings
    assert reading.note == "thumb print. 1 of 17 edges left out. The edge is clipped."


@pytest.mark.parametrize(
    ("keep", "problem", "remedy"),
    [
        (lambda path: scan(path, 0.048), "sigma_um is 0.048", "1 to 500 µm"),
        (lambda path: scan(path, 1e7), "sigma_um is 10000000", "1 to 500 µm"),
        (lambda path: scan(path, float("nan")), "sigma_um is nan", "1 to 500 µm"),
        (
            lambda path: scan(path, scan_ppi=300),
            "go up to 20",
            "Correct the scan's ppi",
        ),
        (lambda path: scan(path, scan_ppi=0), "scan_ppi is 0 ppi", "100 to 20000"),
        (lambda path: scan(path, on=date(26, 5, 3)), "0026-05-03", "1990"),
        (lambda path: pick(path, distance_mm=0.4), "distance_mm is 0.4", "50 to"),
        (
            lambda path: save_restore_pick(
                path, "Fen Coton 310", FEN[1], TRIAL, on=MAY_3
            ),
            'no paper "Fen Coton 310"',
            'Did you mean "Fen Cotton 310"?',
        ),
        (
            lambda path: save_restore_pick(path, FEN[0], "Studio 42", TRIAL, on=MAY_3),
            'no settings for the printer "Studio 42"',
            'Did you mean "Studio 24"?',
        ),
        (
            lambda path: save_restore_pick(path, "Tarn Gloss", FEN[1], TRIAL, on=MAY_3),
            '"Tarn Gloss" has no settings',
            "Add them to the paper book",
        ),
        (
            lambda path: save_restore_pick(
                path.parent / "x.toml", *FEN, TRIAL, on=MAY_3
            ),
            "x.toml.",
            "Check its name",
        ),
    ],
)
def test_lesson_that_makes_no_sense_changes_nothing(typed, keep, problem, remedy):
    with pytest.raises(PrintPlanError) as caught:
        keep(typed)
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy
    assert typed.read_text() == TYPED
    assert [it.name for it in typed.parent.iterdir()] == ["papers.toml"]


def test_wrong_lesson_can_be_forgotten(typed):
    scan(typed)
    pick(typed)
    scan(typed, 90.0, on=MAY_4)
    wrong = fen(typed).spread_readings[1]
    paper = delete_measurement(typed, *FEN, wrong)
    assert [it.sigma_um for it in paper.on_printer[0].spread_readings] == [48.12]
    assert len(fen(typed).restore_picks) == 1
    with pytest.raises(RecordError, match=r"of 2026-05-04\. .* some of 2026-05-03\."):
        delete_measurement(typed, *FEN, wrong)
    delete_measurement(typed, *FEN, fen(typed).spread_readings[0])
    delete_measurement(typed, *FEN, fen(typed).restore_picks[0])
    with pytest.raises(RecordError, match="it has none"):
        delete_measurement(typed, *FEN, wrong)
    assert typed.read_text().endswith(NEXT_PAPER)
    assert "estimate, not measured" in spread_on(paper, fen(typed)).words


def test_table_that_is_deleted_by_hand_is_forgotten(typed):
    scan(typed)
    pick(typed)
    text = typed.read_text()
    begin = text.index("[[paper.on_printer.spread_readings]]")
    typed.write_text(text[:begin] + text[text.index("[[paper.on_printer.restore") :])
    assert fen(typed).spread_readings == ()
    assert len(fen(typed).restore_picks) == 1


@pytest.mark.parametrize(
    ("written", "typed_as", "problem", "remedy"),
    [
        ("on = 2026-05-03", 'on = "3 May"', 'on is the text "3 May"', "a day without"),
        ("on = 2026-05-03", "on = 2026-05-03T12:00:00", "on is 2026-05-03 12", "a day"),
        ("on = 2026-05-03\n", "", "on is missing", "such as 2026-05-03"),
        ("on = 2026-05-03", "on = 0026-05-03", "has the date 0026-05-03", "1990"),
        ("sigma_um = 48.12", "sigma_um = 0.04812", "sigma_um is 0.04812", "1 to 500"),
        ("sigma_um = 48.12", "sigma = 48.12", "sigma: there is", "sigma_um"),
        ("[0.8333, ", "[", "23 cycles_per_mm and 24 contrast_left", "one contrast for"),
        ("edges = 16", "edges = 16.5", "edges is 16.5", "a whole number"),
        ("picked = 0.75", "picked = 0.8", "not offered", "one of 0.5, 0.75, 1, 1.25"),
    ],
)
def test_mistake_in_a_typed_lesson_is_named(typed, written, typed_as, problem, remedy):
    scan(typed)
    pick(typed)
    text = typed.read_text()
    assert written in text
    typed.write_text(text.replace(written, typed_as, 1))
    with pytest.raises(PrintPlanError) as caught:
        read_paper_book(typed)
    lesson = "restore_picks" if "picked" in written else "spread_readings"
    assert f"[[paper.on_printer.{lesson}]] no. 1" in caught.value.problem
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


WRITER = """
import sys
from datetime import date
from pathlib import Path
from time import sleep
from printplan.record.paper_measurements import save_restore_pick
from printplan.sharpening.calibration import RestoreTrial

path, viewer, go = sys.argv[1:]
trial = RestoreTrial(offered=(0.5, 0.75, 1.0), picked=0.75)
Path(go, viewer).touch()
while len(list(Path(go).iterdir())) < 2:
    sleep(0.001)
for day in range(1, 21):
    save_restore_pick(
        path, "Fen Cotton 310", "Studio 24", trial, on=date(2026, 5, day), note=viewer
    )
"""


@pytest.mark.slow
def test_two_workbooks_that_keep_picks_of_one_paper_lose_none(typed, tmp_path_factory):
    go = tmp_path_factory.mktemp("go")
    writers = [
        subprocess.Popen([sys.executable, "-c", WRITER, str(typed), viewer, str(go)])
        for viewer in ("first viewer", "second viewer")
    ]
    assert [writer.wait(timeout=120) for writer in writers] == [0, 0]
    kept = sorted((it.note, it.on.day) for it in fen(typed).restore_picks)
    assert kept == [
        (viewer, day)
        for viewer in ("first viewer", "second viewer")
        for day in range(1, 21)
    ]
    text = typed.read_text()
    assert text.startswith(TYPED.removesuffix(NEXT_PAPER))
    assert text.endswith(NEXT_PAPER)
    assert [it.name for it in typed.parent.iterdir()] == ["papers.toml"]


def test_a_fit_without_the_scanners_response_is_kept_as_such(typed):
    """Whoever keeps it need not say so again, and no later choice prefers it."""
    with_scanner = replace(FIT, sigma_um=61.0, includes_scanner=True)
    paper = save_spread_reading(typed, *FEN, with_scanner, on=MAY_3, scan_ppi=1200)
    (reading,) = fen(typed).spread_readings
    assert reading.includes_scanner
    known = spread_on(paper, fen(typed))
    assert (known.spread, known.count) == (paper.psf_sigma_um, 0)
    assert "estimate" in known.words


def test_a_book_from_before_the_field_is_read(typed):
    scan(typed)
    text = typed.read_text()
    lines = [line for line in text.splitlines() if "includes_scanner" not in line]
    assert len(lines) < len(text.splitlines())
    typed.write_text("\n".join(lines) + "\n")
    (reading,) = fen(typed).spread_readings
    assert not reading.includes_scanner
