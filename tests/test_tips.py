"""Each control of a plan says in a line what it does."""

import ipywidgets as widgets
import pytest

from printplan.workbook.bench import Bench
from printplan.workbook.day_page.print_view import PrintView
from printplan.workbook.panels.tips import TIPS


@pytest.fixture
def view(job):
    with Bench.open(job) as bench:
        yield PrintView(bench)


def controls(ui):
    """All that a person can move, press or fill in."""
    parts = [ui]
    while parts:
        part = parts.pop()
        parts.extend(getattr(part, "children", ()))
        if isinstance(part, widgets.ValueWidget | widgets.Button) and not isinstance(
            part, widgets.HTML | widgets.Image | widgets.IntProgress
        ):
            yield part


def test_every_control_beside_the_picture_has_its_line(view):
    assert view.settle()
    without = {
        it.description
        for panel in view.panels
        for it in controls(panel.ui)
        if not it.tooltip and it.description not in view.finish.fields
    }
    # What the file chooser and answers to findings hold say it in their labels.
    assert without == set()


def test_a_line_is_one_line():
    assert all(len(tip) <= 72 and not tip.endswith(".") for tip in TIPS.values())


def test_labels_with_a_unit_find_their_line(view):
    assert view.size.lengths["width_mm"].ui.tooltip == TIPS["width"]
    marks = view.size.accessibility.tips
    assert TIPS["width"] in marks.values()
