"""What is kept of a finished file lies beside it, and never on anything else."""

import os
from dataclasses import replace
from pathlib import Path

import pytest
from recorded_print import recorded, small_studio, with_spec

from printplan.errors import RecordError
from printplan.record import record_file
from printplan.record.record import with_actions
from printplan.record.record_file import read_record, save_actions
from printplan.record.sidecar import (
    free_print_path,
    records_in,
    write_sidecar_record,
    write_sidecar_sheets,
)
from printplan.spec import RoomSpec

ABOUT = "display and room"
"""150 lx on paper are at most 150 / π = 48 cd/m², far below a display of 120."""


@pytest.fixture(scope="module")
def wish(studio, textured, tmp_path_factory):
    plain = small_studio(tmp_path_factory.mktemp("studio"), studio, textured)
    return with_spec(plain, room=RoomSpec(illuminance_lx=150, display_cd_m2=120))


@pytest.fixture(scope="module")
def record(wish, tmp_path_factory):
    return recorded(wish, tmp_path_factory.mktemp("made") / "print")


@pytest.fixture
def path(record, tmp_path):
    """The record in a folder of its own; what it names lies where it was."""
    return write_sidecar_record(
        record.with_paths(
            lambda it: str(tmp_path / "print.tif") if it == record.rendered.path else it
        )
    )


def test_record_takes_the_files_name_and_a_number_where_that_is_taken(path, record):
    assert path.name == "print.tif.record.toml"
    first = path.read_bytes()
    moved = record.with_paths(
        lambda it: (
            str(path.with_name("print.tif")) if it == record.rendered.path else it
        )
    )
    assert write_sidecar_record(moved).name == "print.tif-2.record.toml"
    assert path.read_bytes() == first


def test_name_of_a_record_holds_the_whole_name_of_its_file(path, record):
    """A TIFF and a PDF page of one name have a record each, and show whose it is."""
    page = record.with_paths(
        lambda it: (
            str(path.with_name("print.pdf")) if it == record.rendered.path else it
        )
    )
    assert write_sidecar_record(page).name == "print.pdf.record.toml"
    for it in records_in(path.parent):
        made = read_record(it).rendered.path
        assert it.name.startswith(Path(made).name)


def test_a_name_that_left_its_record_is_not_given_to_another_file(path):
    """The file has gone, and its record is there: the next file is told apart."""
    assert not path.with_name("print.tif").exists()
    assert free_print_path(path.with_name("print.tif")).name == "print-2.tif"
    path.with_name("print-2.tif").touch()
    assert free_print_path(path.with_name("print.tif")).name == "print-3.tif"
    assert free_print_path(path.with_name("print.pdf")).name == "print.pdf"


def test_records_are_listed_newest_first_and_alone(path):
    older = path.with_name("older.record.toml")
    older.write_bytes(path.read_bytes())
    os.utime(older, ns=(0, 0))
    path.with_name("plan.toml").write_text("", "utf-8")
    path.with_name("folder.record.toml").mkdir()
    assert records_in(path.parent) == (path, older)


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(RecordError, match="Choose another folder"):
        records_in(tmp_path / "nowhere")


def test_answers_go_into_the_record_and_all_else_stays(path):
    before = read_record(path)
    text = path.read_text("utf-8").replace("[master]", "# mine\n[master]")
    path.write_text(text, "utf-8")
    save_actions(path, {ABOUT: 'A lamp: "500 lx".'})
    done = with_actions(before.findings, {ABOUT: 'A lamp: "500 lx".'})
    assert read_record(path) == replace(before, findings=done)
    assert "# mine\n" in path.read_text("utf-8")
    save_actions(path, {ABOUT: ""})
    assert read_record(path) == before
    kept = path.read_bytes()
    save_actions(path, {ABOUT: ""})
    assert path.read_bytes() == kept


def test_an_answer_to_no_finding_changes_nothing(path):
    before = path.read_bytes()
    with pytest.raises(RecordError, match='Did you mean "display and room"'):
        save_actions(path, {"display or room": "A lamp."})
    assert path.read_bytes() == before


@pytest.mark.slow
def test_sheets_lie_beside_the_record_under_one_number(path):
    taken = path.with_name("print.tif.decision.pdf")
    taken.write_bytes(b"mine")
    save_actions(path, {ABOUT: "A lamp was hung over it."})
    told = []
    page, pdf = write_sidecar_sheets(path, currency="EUR", report=told.append)
    assert page == path.with_name("print.tif-2.decision.html")
    assert pdf == path.with_name("print.tif-2.decision.pdf")
    assert "A lamp was hung over it." in page.read_text("utf-8")
    # The A4 sheet at the price in the demo's paper book, which names its currency.
    assert "2.40 EUR (1 sheet at 2.40)" in page.read_text("utf-8")
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert taken.read_bytes() == b"mine"
    assert len(told) == 3


def test_a_record_outside_the_studio_names_its_files_by_whole_paths(tmp_path):
    studio, elsewhere = tmp_path / "studio", tmp_path / "elsewhere"
    master = str(studio / "master.tif")
    assert record_file._near(elsewhere, studio)(master) == master
    assert record_file._near(studio / "jobs", studio)(master) == "../master.tif"
