"""The page for the class asks what the session asks, on one page, without answers."""

import json
import re
import shutil
import subprocess
from pathlib import Path

import pikepdf
import pytest

from printplan.errors import RecordError
from printplan.workbook.bench import Bench
from printplan.workbook.panels.questions import QuestionsPanel
from printplan.workbook.question_sheet import class_questions, write_question_sheet

SESSION = Path(__file__).parents[1] / "notebooks" / "teach-the-print-workflow.ipynb"
MARK = "**Ask the room.** "


def asked():
    """The questions, read without the code that is tested: from mark to empty line."""
    cells = json.loads(SESSION.read_text(encoding="utf-8"))["cells"]
    text = "\n\n".join("".join(it["source"]) for it in cells)
    parts = text.split(MARK)[1:]
    return [" ".join(it.split("\n\n")[0].replace("*", "").split()) for it in parts]


def words_of(pdf):
    """What another program reads on the page, in the order of its lines."""
    done = subprocess.run(
        ["pdftotext", "-raw", pdf, "-"], check=True, capture_output=True, text=True
    )
    return re.sub(r"\W+", " ", done.stdout)


def test_the_questions_are_those_of_the_session():
    questions = class_questions(SESSION)
    assert [it.words for it in questions] == asked()
    assert len(questions) >= 10
    assert all(it.part for it in questions)


@pytest.mark.tools("pdftotext")
@pytest.mark.parametrize(
    # ISO 216, and ANSI/ASME Y14.1 size A, in points.
    ("page", "size_pt"),
    [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))],
)
def test_one_page_holds_every_question_and_no_answer(tmp_path, page, size_pt):
    path = write_question_sheet(
        class_questions(SESSION), tmp_path / "page.pdf", title="Questions", page=page
    )
    with pikepdf.open(path) as pdf:
        (only,) = pdf.pages
        assert [float(it) for it in only.mediabox[2:]] == pytest.approx(
            size_pt, abs=0.05
        )
    read = words_of(path)
    for question in asked():
        assert re.sub(r"\W+", " ", question).strip() in read
    assert "What to listen for" not in read


def test_questions_of_the_teachers_own_are_read(tmp_path):
    mine = tmp_path / "mine.ipynb"
    text = SESSION.read_text(encoding="utf-8")
    mine.write_text(text.replace(MARK, f"{MARK}And you? "), encoding="utf-8")
    assert all(it.words.startswith("And you? ") for it in class_questions(mine))


@pytest.mark.parametrize(
    ("text", "remedy"),
    [("no notebook", "Save it"), (None, "Save it"), ("{}", "Save it")],
)
def test_what_is_no_session_is_refused(tmp_path, text, remedy):
    path = tmp_path / "other.ipynb"
    if text is not None:
        path.write_text(text)
    with pytest.raises(RecordError) as caught:
        class_questions(path)
    assert remedy in caught.value.remedy


def test_too_many_questions_are_refused(tmp_path):
    with pytest.raises(RecordError, match="Shorten them"):
        write_question_sheet(
            class_questions(SESSION) * 5, tmp_path / "page.pdf", title="Questions"
        )
    assert not list(tmp_path.iterdir())


def test_only_the_button_writes_the_page_and_never_over_another(studio, tmp_path):
    shutil.copytree(studio.folder / "lesson", tmp_path / "lesson")
    with Bench.open(studio.lesson_path) as bench:
        bench.folder = tmp_path
        before = set(tmp_path.iterdir())
        panel = QuestionsPanel(bench, SESSION)
        assert set(tmp_path.iterdir()) == before
        panel.write.click()
        panel.write.click()
        made = set(tmp_path.iterdir()) - before
        assert {it.name for it in made} == {
            "questions-for-the-class.pdf",
            "questions-for-the-class-2.pdf",
        }
        assert "-2.pdf" in panel.words.value
