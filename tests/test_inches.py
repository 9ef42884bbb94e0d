"""Whoever works in inches reads inches, on every page and in every refusal."""

import re
from dataclasses import replace

import pytest
from recorded_print import recorded, small_studio

from printplan.errors import FitError
from printplan.pixels.picture_content import picture_content
from printplan.pixels.sharpening import chosen_sharpening, predicted_effect
from printplan.pixels.trials.steps import plain_steps
from printplan.pixels.trials.trial_sheet import TrialSpec, make_trial
from printplan.record.decision_sheet.facts import decision_facts
from printplan.record.decision_sheet.write import html_page
from printplan.record.reprint import compare_records, compare_values, open_record
from printplan.sharpening.choice import choose_sharpening
from printplan.sizing.boxes import Box
from printplan.spec import SharpenSpec, SheetSpec
from printplan.units import LengthUnit
from printplan.workbook.bench import Bench
from printplan.workbook.day_page.print_view import PrintView
from printplan.workbook.drawings.resolution import resolution_words
from printplan.workbook.panels.check import CheckPanel
from printplan.workbook.panels.controls import parts_of
from printplan.workbook.record_words import differences_words
from printplan.workbook.words import advice_words

# Said in millimetres to everybody: sharpening's radius, which is set in them and would
# be thousandths of an inch; and, once on the decision sheet, the picture's size in the
# other unit beside the person's own.
ALWAYS_MM = re.compile(r"radius [\d.]+ mm|\([\d.]+ × [\d.]+ mm\)")


def in_mm(words):
    """Lengths in millimetres in some words, but for those that always are."""
    return re.findall(r"[\d.]+ mm\b", ALWAYS_MM.sub("", words))


def in_inches(wish):
    return replace(wish, spec=replace(wish.spec, lengths_in=LengthUnit.INCHES))


@pytest.fixture(scope="module")
def record(studio, textured, tmp_path_factory):
    folder = tmp_path_factory.mktemp("inches")
    wish = in_inches(small_studio(folder, studio, textured))
    return recorded(wish, folder / "print")


@pytest.fixture(scope="module")
def sheet(record):
    opened = open_record(record)
    with opened.master:
        yield opened


@pytest.mark.slow
def test_decision_sheet_speaks_in_inches(record, sheet):
    page = html_page(decision_facts(record, sheet))
    words = re.sub(r'(src|href)="data:[^"]*"', "", page)
    assert in_mm(words) == []
    # 120 × 78.75 mm, and the nearest distance of 250 mm: over 25.4.
    assert "4.72 × 3.10 in" in words
    assert re.search(r"[> ]10 in", words)
    # The sheet is drawn to scale with its edges written at it.
    svg = decision_facts(record, sheet).sheet_drawing.svg
    assert in_mm(svg) == []
    assert "11.69 in" in svg


def test_advice_and_distance_speak_in_inches(sheet):
    content = picture_content(sheet)
    advice = chosen_sharpening(sheet.plan, content, distance_mm=508)
    far = choose_sharpening(
        paper_psf_sigma_um=1.0,
        ppi=600.0,
        master_edge_sigma_px=0.0,
        noise_l=0.0,
        distance_mm=5080.0,
        unit=LengthUnit.INCHES,
    )
    assert "seen from 200 in" in far.why
    effect = predicted_effect(sheet.plan, content, distance_mm=508)
    told = advice_words(sheet.plan, effect, advice, distance_mm=508).text
    assert "predicted, from 20 in" in told
    assert in_mm(told) == []
    words = resolution_words(sheet.plan.picture_size, 508, LengthUnit.INCHES)
    assert "looked at from 20 in" in words
    assert in_mm(words) == []


@pytest.mark.parametrize(
    ("trial", "told"),
    [
        # 60 mm of both edges are wanted, and A7 has 74 (ISO 216) less its margins.
        (
            TrialSpec(sheet=SheetSpec(media_size="A7", feed="front slot")),
            "2.36 in of both",
        ),
        (
            TrialSpec(
                sheet=SheetSpec(media_size="A5", feed="front slot"),
                patch_width_mm=100,
                patch_height_mm=75,
            ),
            "patches",
        ),
    ],
)
def test_trial_that_does_not_fit_is_refused_in_inches(sheet, trial, told):
    picture = sheet.plan.picture_in_file
    places = [Box(picture.left, picture.top, 40, 40)] * 8
    with pytest.raises(FitError) as error:
        make_trial(sheet, plain_steps(sheet), places, trial)
    words = f"{error.value.problem} {error.value.remedy}"
    assert told in words
    assert " in " in words
    assert in_mm(words) == []


def test_comparison_with_the_saved_plan_speaks_in_inches(record):
    spec = record.spec
    wider = replace(spec.size, longest_mm=254.0, width_mm=None, rule="longest-edge")
    other = replace(
        spec,
        size=wider,
        sheet=replace(spec.sheet, border_mm=12.7, placement="centred"),
        sharpen=SharpenSpec(gain=1.0, radius_mm=0.35),
    )
    rows = compare_values(spec, other, LengthUnit.INCHES)
    told = {it.what: it.second for it in rows}
    assert (told["size, longest"], told["sheet, border"]) == ("10 in", "0.5 in")
    assert told["sharpening, radius"] == "0.35 mm"  # see ALWAYS_MM
    lengths = [it for row in rows for it in (row.first, row.second) if " mm" in it]
    assert len(lengths) <= 2  # the radius before and after
    assert "10 in" in differences_words(rows, first="saved", second="now").html
    in_mm = {it.what: it.second for it in compare_values(spec, other)}
    assert in_mm["size, longest"] == "254 mm"


def test_records_are_compared_in_the_unit_of_the_second(record):
    wide = replace(record.spec.sheet, border_mm=25.4)
    other = replace(record, spec=replace(record.spec, sheet=wide))
    told = {it.what: it.second for it in compare_records(record, other)}
    assert told["sheet, border"] == "1 in"


@pytest.mark.slow
def test_page_of_an_inch_plan_shows_no_millimetres(job):
    """Every control, tip, table and sentence of the page for one print."""
    with Bench.open(job) as bench:
        bench.ask(replace(bench.spec, lengths_in=LengthUnit.INCHES))
        view, check = PrintView(bench), CheckPanel(bench)
        saved = bench.files.whole_wish.spec.sheet
        bench.change(sheet=replace(saved, border_mm=saved.border_mm + 2.54))
        assert view.settle()
        view.compare.click()
        assert view.settle()
        assert check.settle()
        told = []
        for part in (*parts_of(view.ui), *parts_of(check.ui)):
            if getattr(getattr(part, "layout", None), "display", None) == "none":
                continue
            told += [str(getattr(part, it, "")) for it in ("value", "description")]
            told += [getattr(part, "tooltip", None) or ""]
        told.append(repr(view.size.view.geometry))
        with pytest.raises(FitError) as refused:
            bench.change(
                size=replace(
                    bench.spec.size, longest_mm=None, width_mm=5000.0, rule="width"
                )
            )
        told.append(str(refused.value))
    words = [it for it in told if not it.startswith("b'")]
    assert len(words) > 100
    assert any(" in" in it for it in words)
    # The radius of sharpening has its unit on its slider.
    found = [it for it in words if in_mm(it) or it.endswith("(mm)")]
    assert [it for it in found if it != "radius (mm)"] == []
