"""The decision sheet stays in the notebook: whole, by itself, and without scripts."""

import html5lib
import pytest
from recorded_print import recorded, small_studio

from printplan.record.decision_sheet.facts import decision_facts
from printplan.record.decision_sheet.write import html_page
from printplan.record.reprint import open_record
from printplan.workbook import figures


@pytest.fixture(scope="module")
def facts(studio, textured, tmp_path_factory):
    wish = small_studio(tmp_path_factory.mktemp("studio"), studio, textured)
    note = 'Of "Ærø" <&amp; beyond>'
    path = tmp_path_factory.mktemp("made") / "print"
    record = recorded(wish, path, note=note)
    sheet = open_record(record)
    with sheet.master:
        return decision_facts(record, sheet)


def test_page_stands_whole_in_a_frame_that_runs_nothing(facts):
    shown = figures.decision_picture(facts)
    (frame,) = html5lib.parse(
        shown._repr_html_(), treebuilder="dom"
    ).getElementsByTagName("iframe")
    assert frame.getAttribute("srcdoc") == html_page(facts)
    assert "Of &#34;Ærø&#34; &lt;&amp;amp; beyond&gt;" in frame.getAttribute("srcdoc")
    # HTML Living Standard, 4.8.5: an empty sandbox forbids scripts and forms.
    assert frame.hasAttribute("sandbox")
    assert frame.getAttribute("sandbox") == ""


def test_frame_says_what_it_shows(facts):
    shown = figures.decision_picture(facts)
    assert repr(shown) == f"Decision sheet: {facts.title}, {facts.line}"
    assert f'title="{shown.description}"' in shown._repr_html_()
