"""Folders of profiles by operating system, as its documents name them."""

from pathlib import Path

import pytest

from printplan.workbook import profile_folders as module
from printplan.workbook.profile_folders import profile_folders, profile_places

HOME = Path("/home/someone")


def folders(platform, **environment):
    found = profile_folders(platform, environment=environment, home=HOME)
    return [folder.as_posix() for _, folder in found]


def test_linux_has_the_folders_of_xdg():
    """OpenICC directory proposal 0.2: data folders of XDG with color/icc."""
    assert folders("linux") == [
        "/home/someone/.local/share/color/icc",
        "/home/someone/.local/share/icc",
        "/home/someone/.color/icc",
        "/usr/local/share/color/icc",
        "/usr/share/color/icc",
        "/var/lib/color/icc",
    ]


def test_linux_follows_the_variables_of_xdg():
    found = folders("linux", XDG_DATA_HOME="/data", XDG_DATA_DIRS="/opt/share:here")
    assert found[0] == "/data/color/icc"
    assert "/opt/share/color/icc" in found
    # XDG base directory specification: relative paths are to be ignored.
    assert not any("here" in folder for folder in found)
    assert len(found) == len(set(found))


def test_macos_has_the_folders_of_colorsync():
    assert folders("darwin")[:2] == [
        "/home/someone/Library/ColorSync/Profiles",
        "/Library/ColorSync/Profiles",
    ]


def test_windows_has_its_colour_directory():
    assert folders("win32", SystemRoot="D:/Windows") == [
        "D:/Windows/System32/spool/drivers/color"
    ]
    assert folders("win32") == ["C:/Windows/System32/spool/drivers/color"]


@pytest.mark.parametrize("there", [True, False])
def test_only_folders_that_are_there_are_offered(there, tmp_path, monkeypatch):
    folder = tmp_path / "icc"
    if there:
        folder.mkdir()
    monkeypatch.setattr(module, "profile_folders", lambda: (("mine", folder),))
    assert [path for _, path in profile_places()] == ([folder] if there else [])
