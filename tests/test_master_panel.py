"""Master, paper and printer are chosen in the panel; refusals are shown there."""

from dataclasses import replace
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from threading import Event

import numpy as np
import pytest
import tifffile
from PIL import Image

from printplan.checks import Finding, Level
from printplan.errors import RecordError
from printplan.record.paper_book import write_paper_book
from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.record.record_file import read_record
from printplan.record.reprint import Outcome, reprint
from printplan.spec import (
    AlphaRule,
    Intent,
    NamedSpace,
    Placement,
    RoomSpec,
    SizeRule,
    SizeSpec,
)
from printplan.workbook.bench import Bench
from printplan.workbook.panels import check as check_module
from printplan.workbook.panels import finish as finish_module
from printplan.workbook.panels.check import CheckPanel
from printplan.workbook.panels.finish import FinishPanel
from printplan.workbook.panels.master import MasterPanel
from printplan.workbook.panels.panel import Exactness
from printplan.workbook.words import facts_words, findings_words


@pytest.fixture
def job(studio, tmp_path):
    write_paper_book(studio.book, tmp_path / "book.toml")
    wish = read_plan_file(studio.plan_path).resolved(studio.plan_path)
    small = SizeSpec(rule=SizeRule.LONGEST_EDGE, longest_mm=60.0, ppi=300.0)
    spec = replace(wish.spec, size=small)
    write_plan_file(replace(wish, book="book.toml", spec=spec), tmp_path / "plan.toml")
    return tmp_path / "plan.toml"


@pytest.fixture
def bench(job):
    with Bench.open(job) as bench:
        yield bench


@pytest.fixture
def panel(bench):
    return MasterPanel(bench)


@pytest.fixture
def untagged(tmp_path):
    path = tmp_path / "untagged.tif"
    pixels = np.full((60, 90, 3), 30000, np.uint16)
    tifffile.imwrite(path, pixels, photometric="rgb")
    return path


def lay_out(panel, path):
    panel.chooser.path.value = str(path)
    panel.chooser.go.click()


def is_hidden(control):
    return control.layout.display == "none"


# Master


def test_the_panel_shows_the_master_and_says_overview(panel, studio):
    master = studio.folder / "masters" / "seed-heads.tif"
    assert panel.chooser.path.value == str(master)
    picture = Image.open(BytesIO(panel.picture.value))
    facts = panel.bench.master.facts
    assert picture.width / picture.height == pytest.approx(
        facts.width_px / facts.height_px, rel=0.01
    )
    assert Exactness.OVERVIEW.partition(":")[0] in panel.status.value
    assert f"{facts.width_px} × {facts.height_px}" in panel.words.value
    assert (
        "Overview of the master seed-heads.tif."
        in panel.accessibility.described.values()
    )


def test_choosing_a_file_lays_it_out(panel, studio):
    before = panel.picture.value
    lay_out(panel, studio.scenario.chart)
    assert panel.settle()
    assert panel.bench.master.facts.path == str(studio.scenario.chart)
    assert panel.message.value == ""
    assert panel.picture.value != before
    assert studio.scenario.chart.name in panel.words.value


def test_an_untagged_master_is_refused_with_its_remedy(panel, untagged):
    before = panel.bench.sheet
    lay_out(panel, untagged)
    assert "carries no colour profile" in panel.message.value
    assert "&quot;its colours are&quot;" in panel.message.value
    assert 'role="alert"' in panel.message.value
    assert panel.bench.sheet is before
    assert "printplan-dimmed" in panel.stage._dom_classes
    panel.untagged.value = "sRGB"
    panel.chooser.go.click()
    assert panel.message.value == ""
    assert panel.bench.master_spec.assume_profile == "sRGB"
    assert "assumed" in panel.words.value


def test_an_untagged_master_is_read_by_the_profile_of_a_file(panel, untagged, tmp_path):
    profile = tmp_path / "working.icc"
    profile.write_bytes(panel.bench.master.source_profile.data)
    panel.chooser.path.value = str(untagged)
    assert is_hidden(panel.assumed.ui)
    panel.untagged.value = "by-file"
    assert not is_hidden(panel.assumed.ui)
    panel.assumed.path.value = str(profile)
    panel.assumed.go.click()
    assert panel.bench.master.facts.path == str(untagged)
    assert panel.bench.master_spec.assume_profile == str(profile)


def test_a_transparent_master_waits_for_a_rule(panel, tmp_path):
    path = tmp_path / "see-through.png"
    Image.new("RGBA", (90, 60), (200, 100, 50, 128)).save(path)
    panel.untagged.value = "sRGB"
    lay_out(panel, path)
    assert "carries transparency" in panel.message.value
    panel.transparent.value = AlphaRule.FLATTEN
    panel.chooser.go.click()
    assert panel.message.value == ""
    assert panel.bench.master.facts.alpha_was_flattened
    assert "laid on paper white" in panel.words.value


@pytest.mark.slow
def test_a_refused_master_can_be_given_up(panel, untagged):
    finish = FinishPanel(panel.bench)
    assert finish.settle()
    assert is_hidden(panel.cancel)
    lay_out(panel, untagged)
    assert not is_hidden(panel.cancel)
    assert finish.make.disabled
    panel.cancel.click()
    assert panel.message.value == ""
    assert is_hidden(panel.cancel)
    assert panel.chooser.path.value == panel.bench.master_spec.file
    assert finish.settle()
    assert not finish.make.disabled


def test_every_kind_of_master_is_told_in_words(panel):
    facts = panel.bench.master.facts
    told = facts_words(
        replace(
            facts,
            bits=8,
            orientation_flag=6,
            clipped_share=0.0123,
            page_count=3,
            has_location=True,
            profile_is_assumed=True,
            creator="<b>A & B</b>",
        )
    )
    for words in ("reduced to 8 bits", "6, turned", "1.23%", "3; the first", "assumed"):
        assert words in told.text
    assert "&lt;b&gt;A &amp; B&lt;/b&gt;" in told.html


# Paper and printer


def test_another_paper_brings_what_was_chosen_for_it(panel):
    bench = panel.bench
    assert [name for name, _ in panel.paper.options] == [
        paper.name for paper in bench.book.papers
    ]
    panel.paper.value = "Heron Baryta 315"
    assert bench.paper.name == "Heron Baryta 315"
    bench.change(colour=replace(bench.spec.colour, intent=Intent.SATURATION))
    panel.paper.value = "Fen Cotton 310"
    bench.change(colour=replace(bench.spec.colour, intent=Intent.PERCEPTUAL))
    panel.paper.value = "Heron Baryta 315"
    assert bench.spec.colour.intent is Intent.SATURATION


def test_a_missing_profile_is_told_and_can_be_replaced(panel, job, studio):
    book = job.parent / "book.toml"
    profile = Path(studio.book.paper("Heron Baryta 315").on_printer[0].profile)
    text = book.read_text("utf-8").replace(profile.name, "lost.icc")
    book.write_text(text, "utf-8")
    assert is_hidden(panel.missing.ui)
    panel.paper.value = "Heron Baryta 315"
    assert "lost.icc" in panel.message.value
    assert panel.bench.paper.name == "Fen Cotton 310"
    assert not is_hidden(panel.missing.ui)
    panel.missing.path.value = str(profile)
    panel.missing.go.click()
    assert panel.message.value == ""
    assert panel.bench.paper.name == "Heron Baryta 315"
    assert is_hidden(panel.missing.ui)


def test_a_paper_book_that_breaks_meanwhile_is_told(panel, job):
    (job.parent / "book.toml").write_text("= 3", "utf-8")
    panel.paper.value = "Heron Baryta 315"
    assert "not TOML" in panel.message.value
    assert panel.bench.paper.name == "Fen Cotton 310"


def test_a_bench_without_a_plan_file_offers_its_own_paper_only(bench):
    alone = Bench(bench.sheet, folder=bench.folder, stem="alone")
    panel = MasterPanel(alone)
    assert panel.paper.disabled
    assert panel.printer.disabled
    assert panel.paper.options == ((bench.paper.name, bench.paper.name),)


# Findings


def test_findings_stand_in_groups_by_weight_in_words():
    findings = [
        Finding(level=level, topic="x", problem=f"A {level}.", remedy="Do <so>.")
        for level in (Level.NOTE, Level.STOP, Level.WARN, Level.NOTE)
    ]
    html = findings_words(findings).html
    places = [html.index(f"<b>{level}</b>") for level in ("stop", "warn", "note")]
    assert places == sorted(places)
    assert html.count("<b>note</b>") == 1
    assert html.count("A note.") == 2
    assert "Do &lt;so&gt;." in html


@pytest.mark.slow
def test_findings_follow_the_plan_and_are_counted(bench):
    panel = CheckPanel(bench)
    assert panel.settle()
    assert "compensation" not in panel.findings.value
    bench.change(colour=replace(bench.spec.colour, intent=Intent.SATURATION))
    bench.change(sheet=replace(bench.spec.sheet, feed="sheet feeder"))
    assert panel.settle()
    assert "saturation intent" in panel.findings.value
    assert "<b>stop</b>" in panel.findings.value
    assert "Found: stop " in panel.findings.value
    assert "Exact" in panel.status.value


@pytest.mark.slow
def test_a_refused_wish_leaves_the_findings_of_the_plan(bench):
    panel = CheckPanel(bench)
    assert panel.settle()
    before = panel.findings.value
    panel._do(lambda: bench.change_master("nowhere.tif"))
    assert "nowhere.tif" in panel.message.value
    assert panel.findings.value == before


def test_a_fault_in_a_check_is_shown(bench, monkeypatch):
    def broken(_):
        raise ZeroDivisionError("by zero")

    seen = []
    monkeypatch.setattr("threading.excepthook", lambda it: seen.append(it.exc_type))
    monkeypatch.setattr(check_module, "check_plan", broken)
    panel = CheckPanel(bench)
    assert panel.settle()
    assert "fault in printplan (ZeroDivisionError: by zero)" in panel.message.value
    assert seen == [ZeroDivisionError]


# Recording


@pytest.fixture
def dim(bench):
    """A finding that warns: 150 lx on paper are below 48 cd/m², a display has 120."""
    bench.change(room=RoomSpec(illuminance_lx=150, display_cd_m2=120))
    return "display and room"


def made(panel):
    panel.make.click()
    assert panel.settle()
    return panel


@pytest.mark.slow
def test_a_made_file_is_recorded_beside_it_with_the_answers(bench, job, dim):
    panel = FinishPanel(bench)
    assert panel.settle()
    assert is_hidden(panel.done)
    assert set(panel.fields) == {dim}
    panel.fields[dim].value = " A lamp: <500 lx>. "
    panel.note.value = "For the stairs."
    made(panel)
    record = read_record(job.with_name("plan.tif.record.toml"))
    digest = sha256(job.with_name("plan.tif").read_bytes()).hexdigest()
    assert record.rendered.sha256 == digest
    assert {it.done for it in record.findings if it.finding.topic == dim} == {
        "A lamp: <500 lx>."
    }
    assert record.note == "For the stairs."
    assert record.plan_note == read_plan_file(job).note
    assert record.moment.utcoffset() is not None
    assert "plan.tif.record.toml" in panel.recorded.value
    assert made(panel).name.value == "plan-3.tif"
    assert job.with_name("plan-2.tif.record.toml").exists()


@pytest.mark.slow
def test_the_record_names_the_master_that_lies_on_the_bench(bench, job, untagged):
    bench.change_master(untagged, assume_profile=str(NamedSpace.SRGB))
    made(FinishPanel(bench))
    record = read_record(job.with_name("untagged-print.tif.record.toml"))
    assert record.master.file == str(untagged)
    assert record.master.assume_profile == NamedSpace.SRGB
    again = reprint(record, job.with_name("again.tif"))
    assert again.outcome is Outcome.IDENTICAL


@pytest.mark.slow
def test_a_file_is_there_though_its_record_cannot_be_written(bench, job, monkeypatch):
    def full(_):
        raise RecordError("The disk is full.", remedy="Make room.")

    monkeypatch.setattr(finish_module, "write_sidecar_record", full)
    panel = made(FinishPanel(bench))
    assert "The disk is full.<br><b>Make room.</b>" in panel.message.value
    assert "SHA-256" in panel.result.value
    assert job.with_name("plan.tif").exists()
    assert is_hidden(panel.done)
    assert not panel.make.disabled


@pytest.mark.slow
def test_an_answer_given_later_goes_into_the_record(bench, job, dim):
    panel = made(FinishPanel(bench))
    assert is_hidden(panel.update)
    panel.fields[dim].value = "A lamp was hung over it."
    assert not is_hidden(panel.update)
    panel.update.click()
    assert panel.settle()
    assert is_hidden(panel.update)
    record = read_record(job.with_name("plan.tif.record.toml"))
    assert "A lamp was hung over it." in {it.done for it in record.findings}


@pytest.mark.slow
def test_an_answer_comes_back_with_its_finding(bench, dim):
    panel = FinishPanel(bench)
    assert panel.settle()
    panel.fields[dim].value = "A lamp."
    bench.change(room=RoomSpec())
    assert panel.settle()
    assert panel.answers.children == ()
    bench.change(room=RoomSpec(illuminance_lx=150, display_cd_m2=120))
    assert panel.settle()
    assert panel.answers.children[-1].value == "A lamp."


@pytest.mark.slow
def test_the_decision_sheet_is_written_aside_with_the_latest_answers(bench, job, dim):
    panel = made(FinishPanel(bench))
    panel.fields[dim].value = "A lamp was hung over it."
    panel.decision_sheet.click()
    assert panel.decision_sheet.disabled
    assert panel.make.disabled
    assert is_hidden(panel.cancel)
    assert panel.settle()
    assert panel.message.value == ""
    page = job.with_name("plan.tif.decision.html").read_text("utf-8")
    assert "A lamp was hung over it." in page
    assert "4.80 EUR" in page
    assert job.with_name("plan.tif.decision.pdf").read_bytes().startswith(b"%PDF-")
    assert "plan.tif.decision.pdf" in panel.recorded.value
    assert not panel.decision_sheet.disabled


@pytest.mark.slow
def test_a_decision_sheet_of_a_changed_profile_is_refused(bench, job):
    panel = made(FinishPanel(bench))
    path = job.with_name("plan.tif.record.toml")
    hashed = read_record(path).profile.sha256
    path.write_text(path.read_text("utf-8").replace(hashed, "0" * 64), "utf-8")
    panel.decision_sheet.click()
    assert panel.settle()
    assert "has changed" in panel.message.value
    assert "Put the old profile back" in panel.message.value
    assert not job.with_name("plan.tif.decision.html").exists()
    assert panel.recorded.value == ""


# Another photograph


@pytest.mark.slow
def test_another_photograph_takes_nothing_of_the_job_before(bench, job, dim, untagged):
    """Names, notes, answers, result and decision sheet are the new picture's own."""
    before = job.read_bytes()
    panel = FinishPanel(bench)
    assert panel.settle()
    panel.fields[dim].value, panel.note.value = "A lamp.", "For the stairs."
    panel.plan_note.value = "The deep green must not close up."
    made(panel)
    assert not is_hidden(panel.done)
    bench.change_master(untagged, assume_profile=str(NamedSpace.SRGB))
    assert panel.settle()
    assert panel.name.value == "untagged-print.tif"
    assert panel.plan_name.value == "untagged-print.toml"
    assert is_hidden(panel.done)
    shown = (panel.note, panel.plan_note, panel.result, panel.recorded, panel.kept)
    assert {it.value for it in shown} == {""}
    assert panel.fields[dim].value == ""
    made(panel)
    record = read_record(job.with_name("untagged-print.tif.record.toml"))
    assert (record.plan_note, record.note) == ("", "")
    assert {it.done for it in record.findings} == {""}
    panel.keep.click()
    kept = read_plan_file(job.with_name("untagged-print.toml"))
    assert (Path(kept.master.file).name, kept.note) == ("untagged.tif", "")
    assert job.read_bytes() == before


@pytest.mark.slow
def test_photograph_exchanged_while_a_file_is_made_gets_none_of_its_record(
    bench, job, dim, untagged, monkeypatch, gate_of
):
    panel = FinishPanel(bench)
    assert panel.settle()
    panel.fields[dim].value = "A lamp."
    render, goes, waits = finish_module.render, Event(), gate_of()

    def slow(*args, **options):
        goes.set()
        assert waits.wait(30)
        return render(*args, **options)

    monkeypatch.setattr(finish_module, "render", slow)
    panel.make.click()
    assert goes.wait(30)
    bench.change_master(untagged, assume_profile=str(NamedSpace.SRGB))
    waits.set()
    assert panel.settle()
    record = read_record(job.with_name("plan.tif.record.toml"))
    assert "A lamp." in {it.done for it in record.findings}
    assert Path(record.facts.path).name != "untagged.tif"
    assert is_hidden(panel.done)


def test_the_same_photograph_in_another_place_is_the_same_job(bench, job, tmp_path):
    panel = FinishPanel(bench)
    panel.plan_note.value = "Mine."
    moved = tmp_path / "moved.tif"
    moved.write_bytes(Path(bench.master_spec.file).read_bytes())
    bench.change_master(moved)
    assert panel.plan_note.value == "Mine."
    assert panel.plan_name.value == job.name
    panel.keep.click()
    assert Path(read_plan_file(job).resolved(job).master.file) == moved


# Keeping


def test_the_note_of_the_plan_is_seen_edited_and_kept(bench, job):
    written = read_plan_file(job).note
    panel = FinishPanel(bench)
    assert panel.plan_note.value == written
    panel.plan_note.value = "Hangs in the stairs."
    assert bench.note == "Hangs in the stairs."
    panel.keep.click()
    assert read_plan_file(job).note == "Hangs in the stairs."


@pytest.mark.parametrize("name", ["../taken.toml", "/taken.toml", "in/side.toml"])
def test_a_plan_is_not_kept_outside_the_folder_of_its_job(bench, job, name):
    panel = FinishPanel(bench)
    panel.plan_name.value = name
    panel.keep.click()
    assert "names a folder" in panel.message.value
    assert "&quot;plan file&quot;" in panel.message.value
    assert bench.folder == job.parent
    assert bench.files.plan_path == job


def test_a_file_is_not_made_outside_the_folder_of_its_job(bench, job):
    panel = FinishPanel(bench)
    assert panel.settle()
    panel.name.value = "../elsewhere.tif"
    panel.make.click()
    assert panel.settle()
    assert "names a folder" in panel.message.value
    assert list(job.parents[1].glob("elsewhere*")) == []


def test_the_plan_is_kept_from_the_panel(bench, job):
    panel = FinishPanel(bench)
    bench.change(sheet=replace(bench.spec.sheet, placement=Placement.CENTRED))
    panel.keep.click()
    assert str(job) in panel.kept.value
    with Bench.open(job) as again:
        assert again.spec.sheet.placement is Placement.CENTRED


def test_an_edited_plan_is_not_written_over_but_kept_beside_it(bench, job):
    panel = FinishPanel(bench)
    edited = job.read_text("utf-8") + "# mine\n"
    job.write_text(edited, "utf-8")
    panel.keep.click()
    assert "changed by another program" in panel.message.value
    assert panel.kept.value == ""
    assert job.read_text("utf-8") == edited
    panel.plan_name.value = "second.toml"
    panel.keep.click()
    assert panel.message.value == ""
    assert (job.parent / "second.toml").exists()
    assert panel.name.value == "second.tif"


@pytest.mark.slow
def test_damaged_choices_are_told_and_the_file_is_made_all_the_same(bench, job):
    damaged = job.parent / "book-choices.toml"
    damaged.write_text("= 3", "utf-8")
    panel = FinishPanel(bench)
    panel.make.click()
    assert panel.settle()
    assert "not TOML" in panel.message.value
    assert (job.parent / "plan.tif").exists()
    assert damaged.read_text("utf-8") == "= 3"


def test_a_fault_in_a_callback_is_shown_and_logged(bench, monkeypatch, caplog):
    def broken():
        raise ZeroDivisionError("by zero")

    panel = FinishPanel(bench)
    monkeypatch.setattr(bench, "keep", broken)
    panel.keep.click()
    assert "fault in printplan (ZeroDivisionError: by zero)" in panel.message.value
    assert "ZeroDivisionError" in caplog.text


# Another plan of the studio


def choose_plan(panel, path):
    panel.plan.path.value = str(path)
    panel.plan.go.click()


@pytest.fixture
def other(job):
    """Another plan beside the first one, of the same photograph."""
    wish = read_plan_file(job)
    size = replace(wish.spec.size, longest_mm=50.0)
    path = job.with_name("other.toml")
    write_plan_file(replace(wish, spec=replace(wish.spec, size=size)), path)
    return path


def test_another_plan_is_opened_and_the_file_takes_its_name(bench, panel, other):
    finish = FinishPanel(bench)
    finish.note.value = "For the stairs."
    before = bench.files.plan_path, bench.files.plan_path.read_bytes()
    choose_plan(panel, other)
    assert panel.settle()
    assert finish.settle()
    assert bench.files.plan_path == other
    assert bench.spec.size.longest_mm == 50.0
    assert finish.name.value == "other.tif"
    assert finish.plan_name.value == "other.toml"
    # What was said of the print before is not said of this one.
    assert finish.note.value == ""
    assert before[0].read_bytes() == before[1]


def test_what_is_no_plan_is_told_and_the_print_stays(bench, panel, job):
    sheet = bench.sheet
    choose_plan(panel, job.with_name("book.toml"))
    assert 'class="printplan-problem"' in panel.message.value
    assert bench.sheet is sheet
    assert bench.refusal is None
    assert bench.files.plan_path == job


def test_a_plan_whose_master_has_gone_leaves_the_bench_as_it_was(bench, panel, other):
    wish = read_plan_file(other)
    gone = replace(wish, master=replace(wish.master, file="gone.tif"))
    write_plan_file(gone, other, overwrite=True)
    sheet, files = bench.sheet, bench.files
    choose_plan(panel, other)
    assert "gone.tif" in panel.message.value
    assert (bench.sheet, bench.files) == (sheet, files)
    # Its master is still open.
    assert bench.sheet.overview(100).pixels.size > 0
