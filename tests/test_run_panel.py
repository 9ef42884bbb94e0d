"""A table of prints is looked at and made on the page, which stays alive."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from recorded_print import small_studio, with_spec

from printplan.record.plan_file import write_plan_file
from printplan.record.run.glance import glance_at
from printplan.record.studio_folder import BOOK_NAME
from printplan.spec import DeliverySpec, Extent
from printplan.workbook.day_page.many_view import ManyView
from printplan.workbook.panels.run import RunPanel

TABLE = "plan,master,note\nsmall.toml,,\n,<b>none</b>.tif,\n,,who?\n"


@pytest.fixture(scope="module")
def base(studio, textured, tmp_path_factory):
    folder = tmp_path_factory.mktemp("base") / "studio"
    wish = small_studio(folder, studio, textured)
    shutil.move(folder / "book.toml", folder / BOOK_NAME)
    wish = replace(wish, book=BOOK_NAME)
    wish = replace(wish, master=replace(wish.master, file="master.tif"))
    write_plan_file(
        with_spec(wish, delivery=DeliverySpec(extent=Extent.PICTURE)),
        folder / "small.toml",
    )
    (folder / "show.csv").write_text(TABLE, encoding="utf-8")
    return folder


@pytest.fixture
def folder(base, tmp_path):
    return Path(shutil.copytree(base, tmp_path / "studio"))


@pytest.fixture
def panel(folder):
    panel = RunPanel(folder)
    panel.open_table(folder / "show.csv")
    assert panel.settle()
    return panel


def test_rows_are_shown_before_anything_is_done(panel, folder):
    told = panel.shown.value
    assert "1" not in panel.totals.value
    assert "small" in told
    assert "120 mm wide on A4" in told
    assert told.count("not checked yet") == 2
    assert "Row 4, column master: It is empty." in told
    assert "Name the photograph." in told
    assert "&lt;b&gt;none" in told
    assert "<b>none" not in told
    assert not (folder / "show-prints").exists()
    assert panel.chooser.ui.layout.display == "none"


def test_what_is_missing_is_made_and_shown(panel, folder):
    panel.make.click()
    assert panel.make.disabled
    assert panel.cancel.layout.display is None
    assert panel.settle()
    assert panel.message.value == ""
    assert "Done. 2 of 3 failed." in panel.status.value
    assert "made now" in panel.shown.value
    assert panel.shown.value.count("<img ") == 1
    assert "1 from 1 file<" in panel.totals.value
    assert (folder / "small.tif").is_file()
    assert {it.name for it in (folder / "show-prints").iterdir()} == {
        "run.toml",
        "contact-sheet.pdf",
        "summary.csv",
    }
    assert not panel.make.disabled
    panel.form.value = False
    assert "<th scope='row'>2 · small</th>" in panel.shown.value
    assert "<img " not in panel.shown.value
    # Read anew, the row knows its file without opening it.
    panel.again.click()
    assert panel.settle()
    assert "file made" in panel.shown.value
    assert glance_at(panel._run)[0].record is not None


@pytest.mark.slow
def test_cancelled_run_says_so_and_leaves_nothing(panel, folder):
    panel.make.click()
    panel.cancel.click()
    assert panel.settle()
    assert "Cancelled." in panel.status.value
    assert not (folder / "small.tif").exists()
    assert not list(folder.rglob(".printplan-*.part"))
    assert not panel.make.disabled


def test_table_that_cannot_be_read_says_why(panel, folder):
    (folder / "show.csv").write_text("widht\n1\n", encoding="utf-8")
    panel.again.click()
    assert panel.settle()
    assert "called &quot;widht&quot;" in panel.message.value
    panel.other.click()
    assert panel.chooser.ui.layout.display is None
    assert panel.shown.value == ""


def test_place_of_many_prints_shows_its_panel_once(folder):
    view = ManyView(folder)
    panel = view.panel
    assert isinstance(panel, RunPanel)
    view.refresh()
    assert view.panel is panel
