"""Each number of an edition is certified once, with what is known and no more."""

import re
import subprocess
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner
from PIL import Image, ImageCms
from recorded_print import recorded, small_studio, with_spec

from printplan.cli import cli
from printplan.colour.spaces import named_profile
from printplan.errors import RecordError
from printplan.record import certificate as module
from printplan.record.certificate import (
    CertificateWish,
    numbers_to_certify,
    write_certificate,
)
from printplan.record.journal.entry import Outcome
from printplan.record.journal.from_record import entry_from_record
from printplan.record.journal.journal import create_journal, open_journal
from printplan.record.journal.view import read_journal
from printplan.record.sidecar import write_sidecar_record
from printplan.spec import Delivery, DeliverySpec, NamedSpace
from printplan.units import MM_PER_INCH

NOON = datetime(2026, 5, 3, 12, tzinfo=UTC)
EDITION = "Waves on a grid"
WISH = CertificateWish(artist="A. Tern (invented)")


@pytest.fixture(scope="module")
def made(studio, textured, tmp_path_factory):
    """A print with its record; no test changes its folder."""
    folder = tmp_path_factory.mktemp("studio")
    record = recorded(small_studio(folder, studio, textured), folder / "print")
    return record, write_sidecar_record(record)


@pytest.fixture
def record_path(made):
    return made[1]


@pytest.fixture
def journal(made, tmp_path):
    """An edition of three, of which two copies in one entry bear 1 and 2."""
    path = tmp_path / "journal.db"
    entry = entry_of(made[0], copies=2)

    def fill(opened):
        opened.open_edition(EDITION, 3, opened_at=NOON)
        opened.add(entry, noted_at=NOON, edition=EDITION)

    create_journal(path, started_at=NOON, fill=fill)
    return path


def entry_of(record, **more):
    return entry_from_record(
        record, printed_at=NOON, **({"outcome": Outcome.GOOD} | more)
    )


def text_of(path):
    told = subprocess.run(
        ["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    assert told.count("\f") == 1
    return " ".join(told.split())


@pytest.mark.tools("pdftotext")
def test_page_says_what_record_and_journal_know(made, record_path, journal, tmp_path):
    record, _ = made
    out = tmp_path / "one.pdf"
    wish = replace(WISH, number=2, issuer="Tern Loft (an invented print studio)")
    kept = write_certificate(record_path, wish, out, journal=journal)
    assert (kept.title, kept.number, kept.is_proof) == (EDITION, 2, False)
    told = text_of(out)
    high_mm = 120 * 210 / 320
    inches = f"{120 / MM_PER_INCH:.2f} × {high_mm / MM_PER_INCH:.2f} in"
    for words in (
        "Certificate of authenticity",
        EDITION,
        "A. Tern (invented)",
        "Number 2 of 3",
        f"120.0 × {high_mm:.1f} mm ({inches})",
        # A4, landscape (ISO 216).
        "297.0 × 210.0 mm (11.69 × 8.27 in)",
        "Fen Cotton 310, matte, 310 g/m²",
        # The cotton wants matte black; the photo black is not in this print.
        "cyan, magenta, yellow, grey, matte black",
        "3 May 2026",
        "Tern Loft (an invented print studio)",
        f"{record.rendered.sha256[:12]} (first digits",
        record.rendered.sha256,
        "Signature of the artist",
    ):
        assert words in told, words
    assert "photo black" not in told
    assert not re.search(r"archival|perman|year|last", told, re.IGNORECASE)


@pytest.mark.tools("pdfimages")
def test_picture_is_that_of_the_finished_file(made, record_path, journal, tmp_path):
    """LittleCMS shows the TIFF itself, ICC-absolute, reduced to the same pixels."""
    record, _ = made
    out = tmp_path / "one.pdf"
    write_certificate(record_path, replace(WISH, number=1), out, journal=journal)
    subprocess.run(
        ["pdfimages", "-all", out, tmp_path / "image"], check=True, capture_output=True
    )
    (small,) = tmp_path.glob("image*.jpg")
    shown = np.asarray(Image.open(small).convert("RGB")).astype(float)
    pixels = (tifffile.imread(record.rendered.path) / 257).round().astype(np.uint8)
    paper = (pixels == 255).all(axis=2)
    rows, columns = np.flatnonzero(~paper.all(1)), np.flatnonzero(~paper.all(0))
    cut = pixels[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    output = Path(record.paper.on_printer[0].profile).read_bytes()
    seen = ImageCms.profileToProfile(
        Image.fromarray(cut),
        ImageCms.ImageCmsProfile(BytesIO(output)),
        ImageCms.ImageCmsProfile(BytesIO(named_profile(NamedSpace.SRGB).data)),
        renderingIntent=ImageCms.Intent.ABSOLUTE_COLORIMETRIC,
        outputMode="RGB",
    )
    size = (16, 10)  # fine detail is sharpened in the file and not in the overview
    expected = np.asarray(seen.resize(size, Image.Resampling.BOX)).astype(float)
    found = np.asarray(
        Image.fromarray(shown.astype(np.uint8)).resize(size, Image.Resampling.BOX)
    ).astype(float)
    assert np.abs(found - expected).mean() < 4
    assert expected.std() > 20


def test_number_is_certified_once(record_path, journal, tmp_path):
    write_certificate(
        record_path, replace(WISH, number=1), tmp_path / "1.pdf", journal=journal
    )
    with pytest.raises(RecordError, match="A number is certified once"):
        write_certificate(
            record_path, replace(WISH, number=1), tmp_path / "b.pdf", journal=journal
        )
    assert not (tmp_path / "b.pdf").exists()
    # One is left, which then needs no number.
    kept = write_certificate(record_path, WISH, tmp_path / "2.pdf", journal=journal)
    assert kept.number == 2
    with read_journal(journal) as opened:
        assert [it.number for it in opened.certificates()] == [1, 2]


def refused(record_path, journal, tmp_path, wish, remedy):
    with pytest.raises(RecordError, match=remedy):
        write_certificate(record_path, wish, tmp_path / "none.pdf", journal=journal)
    assert not (tmp_path / "none.pdf").exists()
    with read_journal(journal) as opened:
        assert opened.certificates() == ()


def test_several_numbers_ask_which(record_path, journal, tmp_path):
    refused(record_path, journal, tmp_path, WISH, "Say which number")


@pytest.mark.parametrize("number", [3, 4])
def test_number_that_was_not_given_is_refused(record_path, journal, tmp_path, number):
    wish = replace(WISH, number=number)
    refused(record_path, journal, tmp_path, wish, "Choose among 1/3, 2/3")


def test_spoiled_number_is_refused(made, record_path, journal, tmp_path):
    with open_journal(journal) as opened:
        opened.spoil_number(EDITION, 1, why="Torn.", spoiled_at=NOON)
        left = numbers_to_certify(opened, made[0].rendered.sha256)
    assert [it.number for it in left] == [2]
    wish = replace(WISH, number=1)
    refused(record_path, journal, tmp_path, wish, "gets no certificate")


def test_struck_print_is_refused(record_path, journal, tmp_path):
    with open_journal(journal) as opened:
        (entry,) = opened.entries()
        opened.strike(entry, changed_at=NOON, why="Not made.")
    refused(record_path, journal, tmp_path, WISH, "struck out gets no certificate")


def test_misprint_is_refused(made, record_path, tmp_path):
    path = tmp_path / "lost.db"
    entry = entry_of(made[0], outcome=Outcome.MISPRINT, cause="other")

    def fill(opened):
        opened.open_edition(EDITION, 3, opened_at=NOON)
        opened.add(entry, noted_at=NOON, edition=EDITION)

    create_journal(path, started_at=NOON, fill=fill)
    refused(record_path, path, tmp_path, WISH, "No sound print bears it")


def test_artists_proofs_stand_beside_the_edition(made, record_path, journal, tmp_path):
    wish = replace(WISH, proof_of=EDITION)
    refused(record_path, journal, tmp_path, wish, "Note the proof as a good print")
    with open_journal(journal) as opened:
        opened.add(entry_of(made[0], copies=2), noted_at=NOON)
    for number in (1, 2):
        out = tmp_path / f"proof-{number}.pdf"
        kept = write_certificate(record_path, wish, out, journal=journal)
        assert (kept.is_proof, kept.number) == (True, number)
    with pytest.raises(RecordError, match="Note the proof as a good print"):
        write_certificate(record_path, wish, tmp_path / "3.pdf", journal=journal)
    with open_journal(journal) as opened:
        (edition,) = opened.editions()
    assert edition.next_number == 3
    with pytest.raises(RecordError, match=EDITION):
        write_certificate(
            record_path,
            replace(WISH, proof_of="Waves"),
            tmp_path / "4.pdf",
            journal=journal,
        )


def test_file_that_was_changed_is_refused(studio, textured, journal, tmp_path):
    wish = small_studio(tmp_path / "studio", studio, textured)
    record = recorded(wish, tmp_path / "print")
    path = write_sidecar_record(record)
    file = Path(record.rendered.path)
    file.write_bytes(file.read_bytes() + b"\0")
    refused(path, journal, tmp_path, WISH, "make it again from its record")


def test_print_of_a_service_is_refused(studio, textured, journal, tmp_path):
    delivery = DeliverySpec(colour=Delivery.NAMED_SPACE, named_space=NamedSpace.SRGB)
    wish = small_studio(tmp_path / "studio", studio, textured)
    record = recorded(with_spec(wish, delivery=delivery), tmp_path / "print")
    path = write_sidecar_record(record)
    refused(path, journal, tmp_path, WISH, "Ask the service")


def test_print_that_was_not_noted_is_refused(record_path, tmp_path):
    path = tmp_path / "empty.db"
    create_journal(path, started_at=NOON)
    refused(record_path, path, tmp_path, WISH, "Note the print first")


def test_page_that_cannot_be_written_is_no_certificate(
    record_path, journal, tmp_path, monkeypatch
):
    def full(*_arguments, **_more):
        raise RecordError("The disk is full.", remedy="Make room.")

    monkeypatch.setattr(module, "write_page_file", full)
    wish = replace(WISH, number=1)
    refused(record_path, journal, tmp_path, wish, "Make room")


def test_nothing_is_replaced(record_path, journal, tmp_path):
    out = tmp_path / "mine.pdf"
    out.write_bytes(b"mine")
    with pytest.raises(RecordError, match="Choose another name"):
        write_certificate(record_path, replace(WISH, number=1), out, journal=journal)
    assert out.read_bytes() == b"mine"


@pytest.mark.tools("pdftotext")
def test_text_of_others_acts_in_nothing(record_path, journal, tmp_path):
    wish = replace(WISH, number=1, artist="A \N{RIGHT-TO-LEFT OVERRIDE}**B**\nC")
    out = tmp_path / "one.pdf"
    write_certificate(record_path, wish, out, journal=journal)
    told = text_of(out)
    assert "**B**" in told.replace("\u200b", "")
    assert "\N{RIGHT-TO-LEFT OVERRIDE}" not in told


def test_words_without_room_are_refused(record_path, journal, tmp_path):
    wish = replace(WISH, number=1, title="A very long title " * 60)
    refused(record_path, journal, tmp_path, wish, "Give a shorter title")


def test_command_writes_it_and_says_which(record_path, journal, tmp_path):
    out = tmp_path / "one.pdf"
    ended = CliRunner().invoke(
        cli,
        f"certificate {record_path} --artist Tern --number 2 --journal {journal} "
        f"--out {out} --page letter",
    )
    assert ended.exit_code == 0, ended.output
    assert f'Number 2 of "{EDITION}" is certified in' in ended.output
    assert out.read_bytes().startswith(b"%PDF")
