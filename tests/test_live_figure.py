"""Figures in a notebook follow the bench, cost nothing else, and stay without it."""

import base64
import os
import re
import shutil
from dataclasses import replace

import nbformat
import pytest
from nbclient import NotebookClient

from printplan.errors import SpecError
from printplan.pixels.sheet import varied
from printplan.spec import (
    ColourSpec,
    DeliverySpec,
    MountSpec,
    RoomSpec,
    SharpenSpec,
    SizeSpec,
)
from printplan.workbook import figures, live
from printplan.workbook.bench import Bench
from printplan.workbook.live_figure import _DEPENDS_ON


def link_large_files(source, target):
    """Masters and profiles are only read."""
    if source.endswith((".tif", ".icc")):
        os.link(source, target)
    else:
        shutil.copy2(source, target)


@pytest.fixture
def bench(studio, tmp_path):
    """A small print in a folder of its own."""
    folder = tmp_path / "studio"
    shutil.copytree(studio.folder, folder, copy_function=link_large_files)
    with Bench.open(folder / "lesson" / studio.lesson_path.name) as bench:
        bench.change(size=SizeSpec(rule="width", width_mm=120, ppi=150))
        yield bench


@pytest.fixture
def page(monkeypatch):
    """What is put on the page, in order: its place, what is shown, whether anew."""
    put = []

    def display(shown, *, display_id, update):
        put.append((display_id, shown, update))

    monkeypatch.setattr("printplan.workbook.live_figure.display", display)
    return put


def html_of(shown):
    return shown._repr_html_()


def test_a_figure_is_drawn_again_in_its_place(bench, page):
    figure = live(figures.proof_picture, bench)
    figure._ipython_display_()
    bench.change(colour=ColourSpec(lighten_l=8.0))
    assert figure.settle()
    (place, first, anew), (again, second, anew_again) = page
    assert place == again
    assert (anew, anew_again) == (False, True)
    assert html_of(first) != html_of(second)
    assert html_of(second) == html_of(figures.proof_picture(bench.sheet))


def test_another_master_is_seen(bench, page, studio):
    figure = live(figures.master_picture, bench)
    figure._ipython_display_()
    bench.change_master(studio.scenario.stream)
    assert figure.settle()
    assert html_of(page[-1][1]) == html_of(figures.master_picture(bench.master))
    assert "alt=" in html_of(page[-1][1])


def test_many_moves_are_drawn_once(bench, page):
    figure = live(figures.sheet_picture, bench)
    figure._ipython_display_()
    for width_mm in range(100, 130):
        bench.change(size=SizeSpec(rule="width", width_mm=width_mm, ppi=150))
    assert figure.settle()
    assert len(page) <= 3
    assert html_of(page[-1][1]) == html_of(figures.sheet_picture(bench.sheet))


def test_a_figure_may_ask_for_parts_itself(bench, page):
    """The bench stays as it is; what the figure does not say follows it."""
    before, narrow = bench.spec, SizeSpec(rule="width", width_mm=80, ppi=150)
    figure = live(figures.sheet_picture, bench, size=narrow)
    figure._ipython_display_()
    assert bench.spec == before
    bench.change(mount=MountSpec(mat_opening_width_mm=70, mat_opening_height_mm=40))
    bench.change(size=SizeSpec(rule="width", width_mm=100, ppi=150))
    assert figure.settle()
    alone = varied(bench.sheet, replace(bench.spec, size=narrow))
    assert html_of(page[-1][1]) == html_of(figures.sheet_picture(alone))


def test_what_cannot_be_printed_says_so_in_its_place(bench, page):
    wide = SizeSpec(rule="width", width_mm=900, ppi=150)
    live(figures.sheet_picture, bench, size=wide)._ipython_display_()
    ((_, shown, _),) = page
    assert "900" in html_of(shown)
    assert "Choose" in html_of(shown)


def test_a_figure_that_fails_later_says_so(bench, page):
    def draw(sheet):
        if sheet.plan.spec.colour.lighten_l:
            problem = "It is too light."
            raise SpecError(problem, remedy="Take it back.")
        return figures.master_picture(sheet)

    figure = live(draw, bench)
    figure._ipython_display_()
    bench.change(colour=ColourSpec(lighten_l=2.0))
    assert figure.settle()
    assert "It is too light." in html_of(page[-1][1])
    bench.change(colour=ColourSpec())
    assert figure.settle()
    assert "<img" in html_of(page[-1][1])


def test_the_same_figure_in_two_cells_is_drawn_once_for_both(bench, page):
    one, other = (live(figures.sheet_picture, bench) for _ in range(2))
    one._ipython_display_()
    other._ipython_display_()
    assert one.display_id == other.display_id
    bench.change(size=SizeSpec(rule="width", width_mm=100, ppi=150))
    assert one.settle()
    assert other.settle()
    assert [update for *_, update in page] == [False, False, True]
    places = [live(figures.sheet_picture, bench), live(figures.proof_picture, bench)]
    assert places[0].display_id != places[1].display_id


CHANGES = {
    "size": SizeSpec(rule="width", width_mm=90, ppi=150),
    "sharpen": SharpenSpec(gain=3.0, radius_mm=0.3),
    "colour": ColourSpec(lighten_l=8.0),
    "mount": MountSpec(mat_opening_width_mm=70, mat_opening_height_mm=40),
    "room": RoomSpec(illuminance_lx=150, display_cd_m2=120),
    "delivery": DeliverySpec(extent="picture"),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", _DEPENDS_ON)
def test_a_figure_left_alone_would_look_the_same(bench, page, name):
    """Each part on which it is said not to depend, changed."""
    draw = getattr(figures, name)
    settings = {}
    if name in {"papers_picture", "gamut_picture"}:
        settings = {"papers": bench.book.papers[:2]}
    figure = live(draw, bench, **settings)
    figure._ipython_display_()
    ((_, first, _),) = page
    for part, changed in CHANGES.items():
        if part not in figure.depends_on:
            other = varied(bench.sheet, replace(bench.spec, **{part: changed}))
            assert html_of(draw(other, **settings)) == html_of(first), part


def test_the_notebook_keeps_the_latest_without_a_kernel(bench, tmp_path):
    """In a real kernel: the output of the first cell is of the last plan."""
    plan_path = bench.files.plan_path
    shows = f"""
from printplan import ColourSpec, SizeSpec
from printplan.workbook import Bench, figures, live
bench = Bench.open({str(plan_path)!r})
bench.change(size=SizeSpec(rule='width', width_mm=120, ppi=150))
figure = live(figures.proof_picture, bench)
figure"""
    cells = [
        shows,
        "bench.change(colour=ColourSpec(lighten_l=8.0))\nassert figure.settle()",
        "figures.proof_picture(bench.sheet)",
    ]
    notebook = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell(cell) for cell in cells],
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    )
    client = NotebookClient(notebook, resources={"metadata": {"path": tmp_path}})
    client.execute()
    (kept,), (), (plain,) = (cell.outputs for cell in notebook.cells)
    assert kept["data"]["text/html"] == plain["data"]["text/html"]
    (source,) = re.findall(
        r'src="data:image/jpeg;base64,([^"]+)"', plain.data["text/html"]
    )
    assert len(base64.b64decode(source)) > 10_000
