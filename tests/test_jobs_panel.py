"""Jobs are chosen from a list, planned once more, or begun from a photograph."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from recorded_print import small_studio

from printplan.colour.spaces import named_profile
from printplan.record.paper_book import write_paper_book
from printplan.record.plan_file import read_plan_file, write_plan_file
from printplan.record.studio_folder import BOOK_NAME
from printplan.spec import NamedSpace
from printplan.workbook.panels.jobs import JobsPanel

OTHER = "Heron Baryta 315"


@pytest.fixture(scope="module")
def base(studio, textured, tmp_path_factory):
    """A studio with a plan, a master, and photographs to begin with."""
    folder = tmp_path_factory.mktemp("base") / "studio"
    wish = small_studio(folder, studio, textured)
    shutil.move(folder / "book.toml", folder / BOOK_NAME)
    (folder / "jobs").mkdir()
    masters = folder / "masters"
    (masters / "spring").mkdir(parents=True)
    shutil.move(folder / "master.tif", masters / "first.tif")
    pixels = Image.fromarray((textured >> 8).astype(np.uint8))
    pixels.save(masters / "tagged.png", icc_profile=named_profile(NamedSpace.SRGB).data)
    pixels.save(masters / "bare.png")
    (masters / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no more")
    plan = folder / "jobs" / "first.toml"
    write_plan_file(
        _with(wish, file="../masters/first.tif", book=f"../{BOOK_NAME}"), plan
    )
    return folder


def _with(wish, *, file, book):
    return replace(wish, master=replace(wish.master, file=file), book=book)


@pytest.fixture
def folder(base, tmp_path):
    return Path(shutil.copytree(base, tmp_path / "studio"))


@pytest.fixture
def opened():
    return []


@pytest.fixture
def panel(folder, opened):
    panel = JobsPanel(folder, opened.append)
    assert panel.settle()
    return panel


@pytest.fixture
def new(panel):
    return panel.new_job


def is_hidden(control):
    return control.layout.display == "none"


def send(pictures, event, **more):
    """What the browser sends."""
    pictures._handle_custom_msg({"event": event, **more}, [])


def pick(chooser, name):
    send(chooser.pictures, "pick", key=f"{chooser.folder}/{name}")


def controls(part):
    for child in getattr(part, "children", ()):
        yield child
        yield from controls(child)


# The list


def test_the_list_says_what_each_job_is_and_opens_it(panel, folder, opened):
    (item,) = panel.jobs.items
    assert item["name"] == "first"
    assert item["words"] == "120 mm wide on Fen Cotton 310: planned"
    assert item["picture"]
    assert panel.chosen.plan_path == folder / "jobs" / "first.toml"
    for words in ("first.tif", "Studio 24", "A4", "From the plan."):
        assert words in panel.words.value
    panel.open.click()
    send(panel.jobs, "act", key=item["key"])
    assert opened == [folder / "jobs" / "first.toml"] * 2


def test_a_damaged_plan_is_listed_with_its_reason_and_not_opened(panel, folder, opened):
    plan = folder / "jobs" / "first.toml"
    plan.write_text(plan.read_text("utf-8").replace("[size]", "[size"), "utf-8")
    panel.again.click()
    assert panel.settle()
    assert "not TOML" in panel.words.value
    assert panel.open.disabled
    send(panel.jobs, "act", key=str(plan))
    assert opened == []


def test_an_empty_studio_says_what_to_do(studio, tmp_path, opened):
    write_paper_book(studio.book, tmp_path / BOOK_NAME)
    panel = JobsPanel(tmp_path, opened.append)
    assert panel.settle()
    assert "plan one below" in panel.words.value
    assert is_hidden(panel.open)


def test_a_studio_without_a_book_is_told(tmp_path, opened):
    panel = JobsPanel(tmp_path, opened.append)
    assert panel.settle()
    assert BOOK_NAME in panel.new_job.message.value


def test_a_job_whose_book_has_gone_is_listed_and_told(folder, opened):
    (folder / BOOK_NAME).rename(folder / "moved.toml")
    panel = JobsPanel(folder, opened.append)
    assert panel.settle()
    assert [it["name"] for it in panel.jobs.items] == ["first"]
    assert f"{BOOK_NAME}.<br>" in panel.message.value
    (folder / "moved.toml").rename(folder / BOOK_NAME)
    panel.again.click()
    assert panel.settle()
    assert panel.message.value == ""
    assert OTHER in [it for it, _ in panel.paper.options]


def test_what_a_callback_refuses_is_shown(folder):
    def refuse(path):
        read_plan_file(path.with_name("gone.toml"))

    panel = JobsPanel(folder, refuse)
    assert panel.settle()
    panel.open.click()
    assert "There is no file" in panel.message.value
    assert "gone.toml" in panel.message.value


def test_a_copy_for_another_paper_is_chosen_and_not_opened(panel, folder, opened):
    assert OTHER in [it for it, _ in panel.paper.options]
    panel.paper.value = OTHER
    panel.width.value = "10 cm"
    panel.duplicate.click()
    assert panel.settle()
    copy = folder / "jobs" / "first-2.toml"
    assert panel.chosen.plan_path == copy
    assert (read_plan_file(copy).paper, read_plan_file(copy).spec.size.width_mm) == (
        OTHER,
        100,
    )
    assert len(panel.jobs.items) == 2
    assert opened == []
    assert (panel.paper.value, panel.width.value) == ("", "")


def test_a_copy_that_cannot_be_printed_is_refused_in_words(panel, folder):
    panel.duplicate.click()
    assert "Nothing of the copy" in panel.message.value
    panel.width.value = "wide"
    panel.duplicate.click()
    assert "wide" in panel.message.value
    panel.width.value = "400"
    panel.duplicate.click()
    assert panel.settle()
    assert "400" in panel.message.value
    assert not panel.duplicate.disabled
    assert not (folder / "jobs" / "first-2.toml").exists()


# A new job


def test_photographs_are_picked_and_folders_gone_into(new, folder):
    pictures = new.chooser.pictures
    assert [it["name"] for it in pictures.items] == [
        "spring",
        "bare.png",
        "broken.jpg",
        "first.tif",
        "tagged.png",
    ]
    assert [it["picture"] for it in pictures.items] == [False] + [True] * 4
    assert new.plan.disabled
    pick(new.chooser, "tagged.png")
    assert new.chooser.selected == folder / "masters" / "tagged.png"
    assert not new.plan.disabled
    pick(new.chooser, "spring/")
    assert new.chooser.folder == folder / "masters" / "spring"
    assert new.chooser.selected is None
    assert new.plan.disabled


def test_pictures_are_sent_when_they_are_asked_for(new, monkeypatch):
    pictures, sent = new.chooser.pictures, []
    monkeypatch.setattr(
        pictures, "send", lambda content, buffers: sent.append((content, buffers))
    )
    keys = [it["key"] for it in pictures.items if it["picture"]]
    send(pictures, "show", keys=[*keys, "/etc/passwd"])
    assert pictures.settle()
    assert {content["key"] for content, _ in sent} == set(keys)
    for content, buffers in sent:
        if content["key"].endswith("broken.jpg"):
            assert buffers == []
            assert "damaged" in content["words"]
        else:
            assert buffers[0].startswith(b"\xff\xd8\xff")
            assert content["words"] == ""
    pick(new.chooser, "broken.jpg")
    assert "damaged" in new.chooser.note.value


def test_a_new_job_is_planned_with_its_reasons_and_opened(
    panel, new, folder, opened, monkeypatch
):
    said = []
    monkeypatch.setattr(new, "_say", said.append)
    pick(new.chooser, "tagged.png")
    assert is_hidden(new.untagged)
    new.paper.value = OTHER
    new.width.value, new.distance.value, new.sheet.value = "100", "40 cm", "A4"
    new.plan.click()
    assert new.plan.disabled
    assert panel.settle()
    (path,) = opened
    plan = read_plan_file(path)
    assert path.parent == folder / "jobs"
    assert (plan.paper, plan.spec.sheet.media_size) == (OTHER, "A4")
    assert plan.spec.size.width_mm == 100
    assert plan.spec.sharpen.distance_mm == 400
    for words in ("Size: ", "Intent: ", "Sharpening: "):
        assert words in new.reasons.value
    assert "Opening the master." in said
    assert panel.chosen.plan_path == path
    assert not new.plan.disabled


@pytest.mark.slow
def test_an_untagged_photograph_is_asked_for_its_space(panel, new, folder, opened):
    pick(new.chooser, "bare.png")
    assert not is_hidden(new.untagged)
    new.plan.click()
    assert "carries no colour profile" in new.message.value
    assert "its colours are" in new.message.value
    new.untagged.value = "by-file"
    assert not is_hidden(new.assumed.ui)
    new.plan.click()
    assert "No profile is chosen" in new.message.value
    profile = folder / "own.icc"
    profile.write_bytes(named_profile(NamedSpace.SRGB).data)
    new.assumed.path.value = str(profile)
    new.assumed.go.click()
    assert is_hidden(new.assumed.ui)
    new.width.value = "100"
    new.plan.click()
    assert panel.settle()
    # As the plan says it: from its own folder, so that the studio can move.
    assert read_plan_file(opened[0]).master.assume_profile == "../own.icc"


def test_what_cannot_be_planned_is_told_and_can_be_mended(panel, new, opened):
    pick(new.chooser, "tagged.png")
    new.width.value = "wide"
    new.plan.click()
    assert "width: " in new.message.value
    new.width.value = "900"
    new.plan.click()
    assert panel.settle()
    assert "900" in new.message.value
    assert not new.plan.disabled
    assert opened == []


def test_every_control_says_what_it_is_for(panel):
    kinds = ("Text", "Combobox", "Dropdown", "Button", "Select")
    found = [it for it in controls(panel.ui) if type(it).__name__ in kinds]
    assert len(found) > 12
    assert [it.description for it in found if not it.tooltip] == []
