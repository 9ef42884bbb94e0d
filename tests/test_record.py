import hashlib
import platform
import shutil
import zlib
from dataclasses import fields, replace
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

import imagecodecs
import numpy as np
import PIL
import pytest
import scipy
import tifffile
from blake3 import blake3
from hypothesis import given
from hypothesis import strategies as st
from recorded_print import MADE_ON, recorded, small_studio, with_spec

from printplan.colour.spaces import named_profile
from printplan.errors import RecordError
from printplan.pixels.render import render
from printplan.record.plan_file import open_plan_file, read_plan_file, write_plan_file
from printplan.record.record import make_record
from printplan.record.record_file import (
    parse_record_text,
    read_record,
    record_text,
    write_record,
)
from printplan.record.reprint import Outcome, reprint
from printplan.spec import AlphaRule, DeliverySpec, FileFormat, NamedSpace


@pytest.fixture(scope="module")
def folder(studio, textured, tmp_path_factory):
    folder = tmp_path_factory.mktemp("record")
    small_studio(folder, studio, textured)
    return folder


@pytest.fixture(scope="module")
def wish(folder, studio, textured):
    return small_studio(folder / "wish", studio, textured)


@pytest.fixture(scope="module")
def record(folder, wish):
    return recorded(wish, folder / "print", note="First try.")


def digest(path):
    return hashlib.sha256(Path(path).read_bytes()).hexdigest()


def test_record_reads_back_as_it_was_written(record, tmp_path):
    write_record(record, tmp_path / "record.toml")
    assert read_record(tmp_path / "record.toml") == record


@pytest.mark.slow
@given(note=st.text(st.characters(codec="utf-8")))
def test_any_note_reads_back_as_it_was_written(record, note):
    noted = replace(record, note=note)
    assert parse_record_text(record_text(noted), where="it") == noted


def test_record_holds_the_whole_plan(record, wish, tmp_path):
    assert record.plan_file() == wish
    write_plan_file(record.plan_file(), tmp_path / "plan.toml")
    assert read_plan_file(tmp_path / "plan.toml") == wish


def test_record_holds_the_hashes_of_all_files(record, wish, paper_profiles):
    """Against the files themselves, hashed here."""
    assert record.facts.sha256 == digest(wish.master.file)
    assert record.rendered.sha256 == digest(record.rendered.path)
    assert record.rendered.bytes_written == Path(record.rendered.path).stat().st_size
    pixels = np.ascontiguousarray(tifffile.imread(record.rendered.path), "<u2")
    assert record.rendered.pixel_blake3 == blake3(pixels.tobytes()).hexdigest()
    profile = record.paper.on(record.printer).profile
    assert record.profile.sha256 == digest(profile)
    assert record.profile.description == paper_profiles[record.paper.name].name


def test_record_names_every_version(record):
    """As the libraries and their packages tell them, asked here in other ways."""
    told = {
        it.name: getattr(record.versions, it.name) for it in fields(record.versions)
    }
    assert told == {
        "printplan": version("printplan"),
        "python": platform.python_version(),
        "numpy": np.__version__,
        "pillow": PIL.__version__,
        "imagecodecs": imagecodecs.__version__,
        "littlecms": imagecodecs.cms_version().split()[-1],
        "numba": version("numba"),
        "llvmlite": version("llvmlite"),
        "opencolorio": "",
        "scipy": scipy.__version__,
        "tifffile": tifffile.__version__,
        "zlib": zlib.ZLIB_RUNTIME_VERSION,
        "machine": f"{platform.uname().system} {platform.uname().machine}",
    }


@pytest.mark.slow
def test_record_keeps_findings_and_what_was_done(wish, tmp_path):
    """150 ppi is no resolution of the invented printer, and below 200."""
    record = recorded(
        wish, tmp_path / "print", actions={"printer resolution": "Far wall."}
    )
    done = {it.finding.topic: it.done for it in record.findings}
    assert done["printer resolution"] == "Far wall."
    assert [it for it in done.values() if it] == ["Far wall."]
    write_record(record, tmp_path / "record.toml")
    assert read_record(tmp_path / "record.toml").findings == record.findings


@pytest.mark.slow
def test_answer_to_no_finding_is_refused(wish, tmp_path):
    with pytest.raises(RecordError, match="printer resolution"):
        recorded(wish, tmp_path / "print", actions={"printer resolutoin": "Far wall."})


def test_moment_without_a_zone_is_refused(wish, record, tmp_path):
    sheet = open_plan_file(wish)
    with sheet.master:
        rendered = render(sheet, tmp_path / "print.tif")
        naive = datetime(2026, 5, 3, 14, 5)  # noqa: DTZ001 - the point
        with pytest.raises(RecordError, match="offset from UTC"):
            make_record(sheet, [], rendered, made_on=naive, plan_file=wish)
    for text in ("2026-05-03T14:05:00", "yesterday"):
        with pytest.raises(RecordError, match="02:00"):
            replace(record, made_at=text)


def test_file_of_another_sheet_is_refused(wish, tmp_path):
    small = with_spec(wish, size=replace(wish.spec.size, ppi=100))
    sheet, other = open_plan_file(wish), open_plan_file(small)
    with sheet.master, other.master:
        rendered = render(other, tmp_path / "print.tif")
        with pytest.raises(RecordError, match="rendered from"):
            make_record(sheet, [], rendered, made_on=MADE_ON, plan_file=wish)


def test_record_without_its_plan_knows_how_to_read_the_master(tmp_path, wish):
    """A master without a profile and with transparency, read as the user allowed."""
    pixels = np.full((60, 90, 4), 40_000, np.uint16)
    path = tmp_path / "bare.tif"
    tifffile.imwrite(
        path, pixels, photometric="rgb", extrasamples=["unassalpha"], metadata=None
    )
    master = replace(
        wish.master,
        file=str(path),
        assume_profile=NamedSpace.OPRGB,
        alpha=AlphaRule.FLATTEN,
    )
    sheet = open_plan_file(replace(wish, master=master))
    with sheet.master:
        rendered = render(sheet, tmp_path / "print.tif")
        made = make_record(sheet, [], rendered, made_on=MADE_ON)
    assert made.master == master
    with pytest.raises(RecordError, match="Give the paper book"):
        made.plan_file()


def test_grey_master_that_was_read_by_a_named_curve_is_read_so_again(tmp_path, wish):
    path = tmp_path / "grey.tif"
    pixels = np.full((60, 90), 40_000, np.uint16)
    tifffile.imwrite(path, pixels, photometric="minisblack", metadata=None)
    master = replace(wish.master, file=str(path), assume_profile=NamedSpace.SRGB)
    sheet = open_plan_file(replace(wish, master=master))
    with sheet.master:
        rendered = render(sheet, tmp_path / "print.tif")
        made = make_record(sheet, [], rendered, made_on=MADE_ON)
    assert made.master == master
    printed = tifffile.imread(tmp_path / "print.tif")
    middle = printed[printed.shape[0] // 2, printed.shape[1] // 2].astype(float)
    assert np.ptp(middle) < 0.2 * 65535  # a grey in the printer's numbers


def test_profile_from_a_file_wants_the_plan(tmp_path, wish):
    path = tmp_path / "bare.tif"
    pixels = np.full((60, 90, 3), 40_000, np.uint16)
    tifffile.imwrite(path, pixels, photometric="rgb", metadata=None)
    profile = tmp_path / "mine.icc"
    data = bytearray(named_profile(NamedSpace.OPRGB).data)
    data[40:44] = b"APPL"  # platform signature, ICC.1:2022 7.2.10: another hash
    profile.write_bytes(data)
    master = replace(wish.master, file=str(path), assume_profile=str(profile))
    sheet = open_plan_file(replace(wish, master=master))
    with sheet.master:
        rendered = render(sheet, tmp_path / "print.tif")
        with pytest.raises(RecordError, match="In Python: plan_file"):
            make_record(sheet, [], rendered, made_on=MADE_ON)
        named = replace(wish, master=master)
        made = make_record(sheet, [], rendered, made_on=MADE_ON, plan_file=named)
    assert made.master == master


@pytest.mark.slow
def test_whole_studio_can_move_with_its_records(studio, textured, tmp_path):
    """Record in a folder of its own beside masters, all below the paper book."""
    home = tmp_path / "studio"
    wish = small_studio(home, studio, textured)
    (home / "records").mkdir()
    record = recorded(wish, home / "records" / "print")
    pairs = tuple(
        replace(it, profile=str(home / Path(it.profile).name))
        for it in record.paper.on_printer
    )
    for before, after in zip(record.paper.on_printer, pairs, strict=True):
        shutil.copy(before.profile, after.profile)
    record = replace(record, paper=replace(record.paper, on_printer=pairs))
    write_record(record, home / "records" / "record.toml")
    assert str(tmp_path) not in (home / "records" / "record.toml").read_text()
    home.rename(tmp_path / "elsewhere")
    moved = read_record(tmp_path / "elsewhere" / "records" / "record.toml")
    again = reprint(moved, tmp_path / "again.tif")
    assert again.outcome is Outcome.IDENTICAL


def test_record_is_never_overwritten_unasked(record, tmp_path):
    path = tmp_path / "record.toml"
    path.write_text("mine")
    for permitted in (False, True):
        with pytest.raises(RecordError, match="another name"):
            write_record(record, path, overwrite=permitted)
    assert path.read_text() == "mine"
    path.unlink()
    write_record(record, path)
    write_record(replace(record, note="Second."), path, overwrite=True)
    assert read_record(path).note == "Second."
    assert [it.name for it in tmp_path.iterdir()] == ["record.toml"]


@pytest.mark.parametrize(
    ("old", "new", "remedy"),
    [
        ("format_version = 1", "format_version = 2", "newer printplan"),
        ('"printplan record"', '"printplan plan"', "printplan record"),
        ("made_at", "mad_at", "made_at"),
        ("[versions]", "[version]", "versions"),
        ('pixel_blake3 = "', '# "', "hash of the pixels"),
        ('numpy = "', 'numpy = 3 # "', "text in quotes"),
    ],
)
def test_what_is_no_record_is_refused_with_a_remedy(record, old, new, remedy):
    text = record_text(record)
    assert old in text
    with pytest.raises(RecordError, match=remedy):
        parse_record_text(text.replace(old, new, 1), where="it")


@pytest.mark.slow
def test_eight_bits_are_recorded_with_their_seed(wish, tmp_path):
    delivery = DeliverySpec(file_format=FileFormat.TIFF_8, dither_seed=7)
    record = recorded(with_spec(wish, delivery=delivery), tmp_path / "print")
    assert record.spec.delivery.dither_seed == 7
    assert record.rendered.file_format is FileFormat.TIFF_8
