"""A file is chosen by its path, and only when the user says so."""

import os
from pathlib import Path

import pytest

from printplan.errors import SpecError
from printplan.workbook.panels.file_chooser import MOST_SHOWN, FileChooser, list_folder

ENDINGS = (".tif", ".png")


@pytest.fixture
def folder(tmp_path):
    for name in ("b.TIF", "a.png", "notes.txt", ".hidden.tif"):
        (tmp_path / name).touch()
    (tmp_path / "year" / "spring").mkdir(parents=True)
    (tmp_path / "year" / "c.tif").touch()
    (tmp_path / ".cache").mkdir()
    return tmp_path


@pytest.fixture
def chosen():
    return []


@pytest.fixture
def chooser(folder, chosen):
    return FileChooser(
        "master", act="Open", endings=ENDINGS, folder=folder, chosen=chosen.append
    )


def press_enter(chooser):
    """What the browser sends."""
    chooser.path._handle_custom_msg({"event": "submit"}, [])


def test_a_folder_lists_its_folders_and_the_files_wanted(folder):
    found = list_folder(folder, ENDINGS)
    assert found.folders == ("year",)
    assert found.files == ("a.png", "b.TIF")
    assert found.left_out == 0


def test_a_folder_that_is_not_there_is_an_error_with_a_remedy(folder):
    with pytest.raises(SpecError, match="cannot be read") as caught:
        list_folder(folder / "nowhere", ENDINGS)
    assert "Choose another folder" in caught.value.remedy


def test_a_crowded_folder_says_how_many_names_are_left_out(folder):
    for number in range(MOST_SHOWN):
        (folder / f"x{number:04}.tif").touch()
    found = list_folder(folder, ENDINGS)
    assert len(found.folders) + len(found.files) == MOST_SHOWN
    assert found.left_out == 3


@pytest.mark.skipif(os.name == "nt", reason="Windows names are text already")
def test_a_name_that_no_page_can_show_is_left_out(folder):
    Path(os.fsdecode(os.fsencode(folder) + b"/\xff.tif")).touch()
    found = list_folder(folder, ENDINGS)
    assert found.files == ("a.png", "b.TIF")
    assert found.left_out == 1


def test_walking_goes_in_and_out_of_folders(folder, chooser, chosen):
    assert chooser.entries.options == ("year/", "a.png", "b.TIF")
    chooser.entries.value = "year/"
    assert chooser.go.description == "Open this folder"
    chooser.go.click()
    assert chooser.folder == folder / "year"
    assert chooser.entries.options == ("spring/", "c.tif")
    chooser.up.click()
    assert chooser.folder == folder
    assert chosen == []


def test_a_file_is_chosen_by_the_button_and_not_before(folder, chooser, chosen):
    chooser.entries.value = "a.png"
    assert chooser.path.value == str(folder / "a.png")
    assert chosen == []
    assert chooser.go.description == "Open"
    chooser.go.click()
    assert chosen == [folder / "a.png"]


def test_typing_offers_what_the_folder_holds(folder, chooser, chosen):
    chooser.path.value = f"{folder}/year/"
    assert chooser.path.options == (
        str(folder / "year" / "spring/") + "/",
        str(folder / "year" / "c.tif"),
    )
    chooser.path.value = f"{folder}/year/c.ti"
    assert chooser.go.disabled
    press_enter(chooser)
    assert chosen == []
    chooser.path.value = f"{folder}/year/c.tif"
    assert chooser.entries.value == "c.tif"
    assert not chooser.go.disabled
    press_enter(chooser)
    assert chosen == [folder / "year" / "c.tif"]


def test_a_typed_path_may_begin_at_home_or_here(folder, chooser, chosen, monkeypatch):
    monkeypatch.setenv("HOME", str(folder))
    monkeypatch.setenv("USERPROFILE", str(folder))
    chooser.path.value = "~/year/c.tif"
    chooser.go.click()
    chooser.path.value = str(folder / "a.png")
    chooser.path.value = "b.TIF"
    chooser.go.click()
    assert chosen == [folder / "year" / "c.tif", folder / "b.TIF"]


def test_a_file_of_another_ending_can_be_typed(folder, chooser, chosen):
    chooser.path.value = str(folder / "notes.txt")
    chooser.go.click()
    assert chosen == [folder / "notes.txt"]


def test_a_folder_that_cannot_be_read_is_told_and_left(folder, chooser, monkeypatch):
    def refuse(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.scandir", refuse)
    chooser.up.click()
    assert "Permission denied" in chooser.note.value
    assert chooser.folder == folder


def test_showing_a_file_chooses_nothing(folder, chooser, chosen):
    chooser.show(folder / "year" / "c.tif")
    assert chooser.path.value == str(folder / "year" / "c.tif")
    assert chooser.entries.value == "c.tif"
    assert chosen == []


def test_places_are_one_choice_away(folder, chosen):
    places = [("the year", folder / "year"), ("spring", folder / "year" / "spring")]
    chooser = FileChooser(
        "profile",
        act="Open",
        endings=ENDINGS,
        folder=folder,
        chosen=chosen.append,
        places=places,
    )
    assert chooser.places in chooser.ui.children
    assert chooser.places.value == ""
    chooser.places.value = str(folder / "year")
    assert chooser.folder == folder / "year"
    assert "c.tif" in chooser.entries.options
    chooser.up.click()
    assert chooser.folder == folder
    assert chooser.places.value == ""
    chooser.path.value = str(folder / "year" / "c.tif")
    assert chooser.places.value == str(folder / "year")
    assert chosen == []


def test_without_places_there_is_no_such_choice(chooser):
    assert chooser.places not in chooser.ui.children


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("c.tif", "There is no “c.tif” in this folder."),
        ("c&d.tif", "There is no “c&amp;d.tif” in this folder."),
        ("nowhere/c.tif", "There is no folder “"),
        ("notes.txt", "“notes.txt” does not end in .png or .tif"),
    ],
    ids=["missing", "marks", "folder", "kind"],
)
def test_a_path_that_cannot_be_meant_is_told_at_once(folder, chooser, typed, words):
    """A greyed button alone says nothing, least of all to a screen reader."""
    chooser.path.value = str(folder / typed)
    assert words in chooser.note.value
    assert 'role="status"' in chooser.note.value
    chooser.path.value = str(folder / "a.png")
    assert chooser.note.value == ""


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such files")
def test_what_is_no_file_cannot_be_chosen(folder, chooser, chosen):
    os.mkfifo(folder / "pipe.tif")
    chooser.path.value = str(folder / "pipe.tif")
    assert chooser.go.disabled
    assert "neither a file nor a folder" in chooser.note.value
    press_enter(chooser)
    assert chosen == []


def test_enter_on_a_missing_path_says_so(folder, chooser, chosen):
    chooser.path.value = str(folder / "c.tif")
    chooser.note.value = ""
    press_enter(chooser)
    assert "There is no “c.tif”" in chooser.note.value
    assert chosen == []
