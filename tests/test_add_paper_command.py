"""`printplan add paper` tells what the profile is worth and what was written."""

import re

import pytest
from click.testing import CliRunner

from printplan.cli import cli
from printplan.colour.profile_quality import profile_quality
from printplan.errors import RecordError, SpecError
from printplan.media import Surface
from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book


@pytest.fixture
def folder(studio, tmp_path, monkeypatch):
    write_paper_book(
        PaperBook(printers=studio.book.printers, papers=()),
        tmp_path / "paper-book.toml",
    )
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def cotton(studio):
    return studio.book.paper("Fen Cotton 310").on_printer[0].profile


def run(*arguments):
    done = CliRunner().invoke(cli, ["add", "paper", *map(str, arguments)])
    if done.exception is not None:
        raise done.exception
    return done.output


def test_the_profile_alone_is_enough(folder, cotton):
    told = run(cotton)
    (paper,) = read_paper_book(folder / "paper-book.toml").papers
    (setup,) = paper.on_printer
    assert told.splitlines()[-2:] == [
        f"The profile was copied to {setup.profile}.",
        f'The paper "{paper.name}" for Studio 24 is in paper-book.toml.',
    ]
    # What is told is what is measured and what is written.
    quality = profile_quality(setup.profile)
    assert f"L* {quality.black_l:.1f}, density {quality.black_density:.2f}" in told
    assert f"{quality.volume / 1000:.0f} thousand CIELAB units" in told
    assert re.search(rf"^surface: {paper.surface};", told, re.MULTILINE)
    assert re.search(rf"^thickness: {paper.thickness_um:g} µm;", told, re.MULTILINE)
    assert f"black ink: {setup.black_ink};" in told


def test_every_option_reaches_the_book(folder, cotton):
    run(
        *(cotton, "--book", folder / "paper-book.toml", "--printer", "Studio 24"),
        *("--name", "Own Etching", "--surface", "baryta"),
        *("--black-ink", "photo black", "--weight-gsm", "300"),
        *("--thickness-um", "340", "--drying-h", "6", "--feed", "sheet feeder"),
        *("--sheet", "A4", "--sheet", "17x22 in", "--media-type", "Heavy"),
        *("--quality", "Best", "--setup", "best"),
    )
    (paper,) = read_paper_book(folder / "paper-book.toml").papers
    (setup,) = paper.on_printer
    assert (paper.name, paper.surface) == ("Own Etching", Surface.BARYTA)
    assert (paper.weight_gsm, paper.thickness_um, paper.drying_h) == (300, 340, 6)
    assert paper.sheets == ("A4", "17x22 in")
    assert (setup.black_ink, setup.feeds) == ("photo black", ("sheet feeder",))
    assert (setup.media_type, setup.quality, setup.setup) == ("Heavy", "Best", "best")


def test_another_setup_is_told_as_such(cotton, folder):
    run(cotton, "--name", "Cotton")
    told = run(cotton, "--name", "Cotton", "--quality", "Best")
    assert 'Another setup "matte black, Best" of "Cotton" for Studio 24' in told
    assert "copied" not in told
    assert len(list((folder / "profiles").iterdir())) == 1


@pytest.mark.parametrize(
    ("more", "kind", "words"),
    [
        (("--surface", "shiny"), SpecError, "Surface"),
        (("--printer", "Studio 25"), RecordError, "Did you mean"),
        (("--book", "nowhere.toml"), RecordError, "Check its name"),
        (("--sheet", "A44"), SpecError, "A4"),
    ],
)
@pytest.mark.usefixtures("folder")
def test_what_cannot_be_meant_is_refused(more, kind, words, cotton):
    with pytest.raises(kind, match=words):
        run(cotton, *more)
