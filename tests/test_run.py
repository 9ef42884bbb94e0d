"""Prints of a table are those that would be made alone, and none is made twice."""

import csv
import hashlib
import os
import re
import shutil
import signal
import subprocess
import sys
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from threading import Event, Thread

import pikepdf
import pytest
import tifffile
from click.testing import CliRunner
from recorded_print import small_studio, with_spec

from printplan.cli import cli
from printplan.errors import RecordError
from printplan.own_process import maker_in
from printplan.pixels.own_files import OwnFile
from printplan.record.finished_print import finish_print
from printplan.record.job_list import list_jobs
from printplan.record.paper_defaults import (
    DefaultDelivery,
    DefaultSheet,
    PaperDefaults,
    defaults_path,
    write_paper_defaults,
)
from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.record.print_list import list_prints
from printplan.record.record_file import read_record
from printplan.record.run.carry_out import RowState, Run, Stage
from printplan.record.run.contact_sheet import contact_sheet
from printplan.record.run.crew import cluster_crew, own_crew
from printplan.record.run.places import RowPlan
from printplan.record.run.summary import write_own_page
from printplan.record.run.totals import forecast_s, totals_of
from printplan.record.studio_folder import BOOK_NAME
from printplan.spec import (
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Placement,
    SharpenSpec,
    SizeRule,
    SizeSpec,
)

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Processes are killed by other means there."
)
PICTURE = DeliverySpec(extent=Extent.PICTURE)
MADE_ON = datetime(2026, 5, 3, 14, 5, tzinfo=UTC)

TABLE = """\
master;plan;width;paper;copies;note
master.tif;;60 mm;Fen Cotton 310;3;=1+1
;small.toml;;;;
;jobs/other.toml;;;;
nothing.tif;;;Fen Cotton 310;;
"""


def sha256(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.fixture(scope="module")
def base(studio, textured, tmp_path_factory):
    """A studio with a master, two plans, and what was last chosen for a paper."""
    folder = tmp_path_factory.mktemp("base") / "studio"
    wish = small_studio(folder, studio, textured)
    shutil.move(folder / "book.toml", folder / BOOK_NAME)
    wish = with_spec(
        replace(wish, book=BOOK_NAME, master=replace(wish.master, file="master.tif")),
        delivery=PICTURE,
    )
    (folder / "jobs").mkdir()
    write_plan_file(wish, folder / "small.toml")
    other = with_spec(
        replace(
            wish,
            book=f"../{BOOK_NAME}",
            master=replace(wish.master, file="../master.tif"),
            paper="Heron Baryta 315",
        ),
        size=SizeSpec(rule=SizeRule.WIDTH, width_mm=80, ppi=150),
        delivery=replace(PICTURE, file_format=FileFormat.TIFF_8, copies=2),
    )
    write_plan_file(other, folder / "jobs" / "other.toml")
    write_paper_defaults(
        defaults_path(folder / BOOK_NAME),
        PaperDefaults(
            paper="Fen Cotton 310",
            printer="Studio 24",
            ppi=300,
            sheet=DefaultSheet(feed="front slot", placement=Placement.CENTRED),
            sharpen=SharpenSpec(),
            colour=ColourSpec(),
            delivery=DefaultDelivery(
                colour=Delivery.PRINTER_COLOUR,
                file_format=FileFormat.TIFF_16,
                extent=Extent.PICTURE,
            ),
        ),
    )
    (folder / "show.csv").write_text(TABLE, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def crew():
    """Two processes for all tests: to start them takes longer than to make a print."""
    with own_crew(2) as crew:
        yield crew


@pytest.fixture(scope="module")
def carried_out(crew):
    def carry_out(table):
        run = Run(table)
        with run.alone():
            run.prepare(crew)
            run.make(crew)
        return run.result()

    return carry_out


@pytest.fixture(scope="module")
def first(base, carried_out):
    """The table, made by two processes."""
    return carried_out(base / "show.csv")


def stamp(path):
    return path.stat().st_mtime_ns, path.stat().st_ino


def copied(base, tmp_path):
    return Path(shutil.copytree(base, tmp_path / "studio")) / "show.csv"


def test_each_row_becomes_what_it_asks(first):
    made, small, other, missing = first.rows
    assert [it.state for it in first.rows] == [RowState.MADE] * 3 + [RowState.FAILED]
    assert made.made.file_path.parent == first.folder
    assert small.made.file_path.name == "small.tif"
    assert other.made.file_path.parent.name == "jobs"
    assert "There is no file" in missing.error.problem
    plan = read_plan_file(made.prepared.plan_path)
    assert (plan.spec.delivery.copies, plan.note) == (3, "=1+1")
    assert (plan.master.file, plan.book) == ("../master.tif", f"../{BOOK_NAME}")


def test_size_told_is_that_of_the_file(first):
    """Read by tifffile, which knows nothing of plans."""
    for it in first.rows[:3]:
        with tifffile.TiffFile(it.made.file_path) as file:
            page = file.pages[0]
            over, under = page.tags["XResolution"].value
            width_mm = page.imagewidth / (over / under) * 25.4
        # To a pixel of 150 an inch.
        assert it.prepared.plan.picture_size.width_mm == pytest.approx(
            width_mm, abs=0.2
        )
        assert it.made.sha256 == sha256(it.made.file_path)


def test_files_and_records_are_those_of_prints_made_alone(first, tmp_path):
    for number, it in enumerate(first.rows[:3]):
        folder = tmp_path / str(number)
        folder.mkdir()
        plan = read_plan_file(it.prepared.plan_path).resolved(it.prepared.plan_path)
        write_plan_file(plan, folder / it.prepared.plan_path.name)
        alone = finish_print(folder / it.prepared.plan_path.name)
        assert alone.rendered.sha256 == it.made.sha256
        records = [read_record(it.made.record_path), read_record(alone.record_path)]
        told = [
            replace(record, made_at="2026-05-03T14:05:00+02:00", rendered=None)
            for record in records
        ]
        assert told[0] == told[1]
        assert records[0].rendered.sha256 == records[1].rendered.sha256


def test_prints_of_a_run_are_jobs_and_prints_of_the_studio(first, base):
    jobs = {it.plan_path: it for it in list_jobs(base).jobs}
    row = first.rows[0]
    assert jobs[row.prepared.plan_path].file_path == row.made.file_path
    assert row.made.file_path in {it.file_path for it in list_prints(base).prints}


def test_second_run_makes_only_what_is_missing(first, carried_out, base, tmp_path):
    table = copied(base, tmp_path)
    folder = table.with_name("show-prints")
    (kept,) = folder.glob("master*.tif")
    was = stamp(kept)
    # One file gone, the other not as its record says.
    (table.parent / "small.tif").unlink()
    other = table.parent / "jobs" / "other.tif"
    other.write_bytes(other.read_bytes()[:-1] + b"x")
    plans = {it: it.read_bytes() for it in table.parent.rglob("*.toml")}
    result = carried_out(table)
    assert [it.state for it in result.rows] == [
        RowState.KEPT,
        RowState.MADE,
        RowState.MADE,
        RowState.FAILED,
    ]
    assert [it.made.sha256 for it in result.rows[:3]] == [
        it.made.sha256 for it in first.rows[:3]
    ]
    assert stamp(kept) == was
    changed = {it.name for it, text in plans.items() if it.read_bytes() != text}
    assert changed <= {"run.toml"}
    # What was known of the kept one is told again.
    assert result.rows[0].prepared.findings == first.rows[0].prepared.findings
    # A third run makes nothing.
    states = [it.state for it in carried_out(table).rows[:3]]
    assert states == [RowState.KEPT] * 3


@pytest.mark.slow
@pytest.mark.usefixtures("first")
def test_changed_plan_and_changed_master_are_made_anew(
    carried_out, base, tmp_path, textured
):
    table = copied(base, tmp_path)
    plan = table.parent / "jobs" / "other.toml"
    plan.write_text(plan.read_text().replace("width_mm = 80", "width_mm = 70"))
    result = carried_out(table)
    assert [it.state for it in result.rows[:3]] == [
        RowState.KEPT,
        RowState.KEPT,
        RowState.MADE,
    ]
    small_studio_master = table.parent / "master.tif"
    with tifffile.TiffFile(small_studio_master) as file:
        profile = file.pages[0].tags["InterColorProfile"].value
    tifffile.imwrite(
        small_studio_master,
        textured[::-1].copy(),
        photometric="rgb",
        iccprofile=profile,
        metadata=None,
    )
    result = carried_out(table)
    assert [it.state for it in result.rows[:3]] == [RowState.MADE] * 3


def test_only_copies_and_note_change_in_a_plan(first, crew, base, tmp_path):
    table = copied(base, tmp_path)
    table.write_text(
        TABLE.replace("310;3;=1+1", "310;5;for the hall"), encoding="utf-8"
    )
    plan = table.with_name("show-prints") / first.rows[0].prepared.plan_path.name
    plan.write_text(plan.read_text() + "# mine\n")
    run = Run(table)
    run.prepare(crew)
    row = run.result().rows[0]
    assert row.prepared.plan_path == plan
    assert row.state is RowState.KEPT
    text = plan.read_text()
    assert "copies = 5" in text
    assert "for the hall" in text
    assert text.endswith("# mine\n")


# Deaths


def kill_maker_in(folder, ended, wanted=b""):
    """Kill the process that writes into a folder, once it does."""
    killed = []

    def watch():
        while not killed and not ended.wait(0.005):
            for part in folder.glob(".printplan-*.part"):
                # A plan or a record is written at once: a print is long.
                with suppress(OSError):
                    if part.stat().st_size > 1_000_000 and wanted <= part.name.encode():
                        os.kill(maker_in(part.name).process, signal.SIGKILL)
                        killed.append(part.name)

    thread = Thread(target=watch)
    thread.start()
    return thread, killed


@pytest.fixture
def with_a_large_one(base, tmp_path):
    """The table, of which one row takes long enough to be met in the middle."""
    table = copied(base, tmp_path)
    for it in (*table.parent.rglob("*.tif*"), *table.parent.rglob("run.toml")):
        if it.name != "master.tif":
            it.unlink()
    large = table.parent / "large"
    large.mkdir()
    plan = read_plan_file(table.parent / "jobs" / "other.toml")
    size = SizeSpec(rule=SizeRule.WIDTH, width_mm=250, ppi=300)
    write_plan_file(with_spec(plan, size=size), large / "large.toml")
    table.write_text(
        "plan\nsmall.toml\nlarge/large.toml\njobs/other.toml\n", encoding="utf-8"
    )
    return table


@pytest.mark.slow
def test_killed_worker_loses_one_print_and_the_next_run_makes_it(
    with_a_large_one, carried_out
):
    table = with_a_large_one
    ended = Event()
    thread, killed = kill_maker_in(table.parent / "large", ended)
    try:
        result = carried_out(table)
    finally:
        ended.set()
        thread.join()
    assert len(killed) == 1
    lost = {it.row.name: it for it in result.failed}
    assert list(lost) == ["large/large.toml"]
    assert "died" in lost["large/large.toml"].error.problem
    assert not list(table.parent.rglob("large/*.tif*"))
    again = carried_out(table)
    states = {it.row.name: it.state for it in again.rows}
    assert states == {
        "small.toml": RowState.KEPT,
        "large/large.toml": RowState.MADE,
        "jobs/other.toml": RowState.KEPT,
    }


@pytest.mark.slow
def test_cancelled_run_leaves_nothing_half_written(with_a_large_one, crew):
    table = with_a_large_one
    folder = table.parent / "large"
    run = Run(table)

    def is_writing():
        return any(it.stat().st_size > 1_000_000 for it in folder.glob(".printplan-*"))

    # A crew that breaks off makes nothing any more; the others' crew is needed.
    with run.alone(), own_crew(1) as ended:
        run.prepare(crew)
        run.make(ended, is_cancelled=is_writing)
        ended.executor.break_off()
    assert not list(folder.glob("*.tif*"))
    assert not list(table.parent.rglob(".printplan-*.part"))
    result = run.result()
    assert {it.row.name: it.state for it in result.rows}["large/large.toml"] is (
        RowState.PLANNED
    )


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # of a library's own
def test_cluster_makes_the_same_files(first, base, tmp_path):
    distributed = pytest.importorskip("distributed")
    table = copied(base, tmp_path)
    for it in table.parent.rglob("*.tif*"):
        if it.name != "master.tif":
            it.unlink()
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address=None,
        local_directory=str(tmp_path),
    ) as cluster:
        run = Run(table)
        with cluster_crew(cluster.scheduler_address) as crew:
            assert crew.at_once == 2
            run.prepare(crew)
            run.make(crew)
    made = run.result()
    assert [it.state for it in made.rows] == [RowState.MADE] * 3 + [RowState.FAILED]
    assert [it.made.sha256 for it in made.rows[:3]] == [
        it.made.sha256 for it in first.rows[:3]
    ]


def test_second_run_of_a_table_waits_for_the_first(base, tmp_path, monkeypatch):
    monkeypatch.setattr("printplan.record.lock_file.PATIENCE_S", 0.1)
    run = Run(copied(base, tmp_path))
    with run.alone(), pytest.raises(RecordError), run.alone():
        pass


# What is told


def test_totals_are_sums_over_copies(first):
    totals = first.totals
    assert (totals.files, totals.prints) == (3, 3 + 1 + 2)
    assert {str(it) for it in totals.paper} == {
        "4 sheets of Fen Cotton 310, A4",
        "2 sheets of Heron Baryta 315, A4",
    }
    assert totals.priced == totals.prints
    book = (first.table.parent / BOOK_NAME).read_text(encoding="utf-8")
    cotton, baryta = sheet_prices(book)
    due = 4 * cotton + 2 * baryta
    assert totals.prices == (("EUR", pytest.approx(due)),)
    assert totals.ink_ml is None


def sheet_prices(book):
    """Price of an A4 sheet of both papers, by the text of the book."""
    for paper in ("Fen Cotton 310", "Heron Baryta 315"):
        part = book[book.index(f'name = "{paper}"') :]
        found = re.search(r'sheet = "A4"[^\[]*price_each = ([0-9.]+)', part)
        yield float(found[1])


def test_forecast_is_pixels_at_the_measured_rate(first):
    rows = [replace(it.prepared, made=None) for it in first.rows[:3]]
    pixels = [it.plan.file_box.width * it.plan.file_box.height for it in rows]
    before = [RowPlan(file="a.toml", asked_sha256="", pixels=2_000, seconds=1.0)]
    assert forecast_s(rows, [], 2) is None
    assert forecast_s(rows, before, 1) == pytest.approx(sum(pixels) / 2_000)
    side_by_side = max(sum(pixels) / 2, *pixels) / 2_000
    assert forecast_s(rows, before, 2) == pytest.approx(side_by_side)
    made = [replace(it.prepared, made=it.made) for it in first.rows[:3]]
    assert forecast_s(made, before, 2) == 0
    assert totals_of([]).price_words.startswith("not known")


def test_contact_sheet_shows_every_proof(first):
    data = contact_sheet(first, MADE_ON)
    assert data == contact_sheet(first, MADE_ON)
    with pikepdf.open(BytesIO(data)) as pdf:
        pictures = [
            it
            for it in pdf.objects
            if isinstance(it, pikepdf.Stream) and it.get("/Subtype") == "/Image"
        ]
        assert len(pictures) == 3
        assert str(pdf.docinfo["/Title"]) == "Contact sheet: show.csv"


@pytest.mark.tools("pdftotext")
def test_contact_sheet_says_what_the_run_says(first, tmp_path):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(contact_sheet(first, MADE_ON))
    told = subprocess.run(
        ["pdftotext", "-layout", path, "-"], capture_output=True, check=True, text=True
    ).stdout
    words = " ".join(told.replace("\u00a0", " ").split())
    assert "6 from 3 files" in words
    assert "There is no file" in words
    for it in first.rows[:3]:
        size = it.prepared.plan.picture_size
        assert f"{size.width_mm:.1f} × {size.height_mm:.1f} mm on A4" in words


def test_command_tells_rows_and_totals_and_writes_both_pages(first, base, tmp_path):
    table = copied(base, tmp_path)
    folder = table.with_name("show-prints")
    # What a person has written there stays, and the table lies beside it.
    (folder / "summary.csv").write_text("mine", encoding="utf-8")
    made = CliRunner().invoke(cli, ["run", str(table), "--workers", "1"])
    assert made.exit_code == 2, made.output  # one master is missing
    assert "small.tif (made before)" in made.output
    assert "Prints: 6 from 3 files." in made.output
    assert (folder / "summary.csv").read_text(encoding="utf-8") == "mine"
    with (folder / "summary-2.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [it["row"] for it in rows] == ["2", "3", "4", "5"]
    assert [it["sha256"] for it in rows[:3]] == [
        it.made.sha256 for it in first.rows[:3]
    ]
    assert rows[2]["plan"] == "../jobs/other.toml"
    assert (folder / "contact-sheet.pdf").read_bytes().startswith(b"%PDF")


def test_own_page_gives_way_to_the_next_one(tmp_path):
    path = tmp_path / "summary.csv"
    assert write_own_page(b"first", path, OwnFile.SUMMARY) == path
    assert write_own_page(b"second", path, OwnFile.SUMMARY) == path
    assert path.read_bytes() == b"second"
    # The same bytes as another kind of page are not this page.
    other = write_own_page(b"third", path, OwnFile.CONTACT_SHEET)
    assert other == tmp_path / "summary-2.csv"
    assert path.read_bytes() == b"second"


def test_command_refuses_two_places_for_its_work(base):
    told = CliRunner().invoke(
        cli,
        ["run", str(base / "show.csv"), "--workers", "2", "--scheduler", "tcp://a:1"],
    )
    assert "Leave one of the two away" in str(told.exception)


def test_table_outside_of_a_studio_wants_its_book(tmp_path):
    (tmp_path / "a.csv").write_text("master\na.tif\n")
    with pytest.raises(RecordError, match="name the paper book"):
        Run(tmp_path / "a.csv")


def test_only_check_makes_no_file(base, crew, tmp_path):
    table = tmp_path / "studio"
    shutil.copytree(base, table, ignore=shutil.ignore_patterns("*-prints", "*.tif.*"))
    table /= "show.csv"
    run, seen = Run(table), []
    run.prepare(crew, lambda *told: seen.append(told))
    assert seen == [(Stage.PREPARE, done, 4) for done in range(5)]
    states = [it.state for it in run.result().rows]
    assert states[0] is RowState.PLANNED
    assert not list((table.with_name("show-prints")).glob("*.tif"))
    assert len(run.missing()) >= 1
