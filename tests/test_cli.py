import hashlib
import os
import re
import shutil
import signal
import subprocess
import sys
import termios
import time
from contextlib import redirect_stderr, redirect_stdout, suppress
from dataclasses import replace
from io import BytesIO, StringIO, TextIOWrapper
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import tifffile
from PIL import Image

import printplan
from printplan.cli import main
from printplan.cli.telling import progress_shown
from printplan.colour.spaces import named_profile
from printplan.record.paper_book import PaperBook, write_paper_book
from printplan.record.plan_file import PlanFile, plan_file_text
from printplan.spec import (
    MasterSpec,
    NamedSpace,
    PrintSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

MAIN = "from printplan.cli import main; main()"
PAPER = "Fen Cotton 310"


def environment():
    """What lets another interpreter find this package, installed or not."""
    paths = [str(Path(printplan.__file__).parent.parent), os.environ.get("PYTHONPATH")]
    return os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, paths))}


def command(*arguments):
    return [sys.executable, "-c", MAIN, *map(str, arguments)]


def run(*arguments, cwd=None):
    """One command line in this interpreter: starting another takes half a second."""
    out, err = (TextIOWrapper(BytesIO(), encoding="utf-8") for _ in range(2))
    with (
        pytest.MonkeyPatch.context() as patched,
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        patched.setattr(sys, "argv", ["printplan", *map(str, arguments)])
        if cwd is not None:
            patched.chdir(cwd)
        with pytest.raises(SystemExit) as ended:
            main()
    texts = []
    for stream in (out, err):
        stream.flush()
        texts.append(stream.buffer.getvalue().decode())
    status = ended.value.code or 0  # None is 0 for whoever asks
    return SimpleNamespace(returncode=status, stdout=texts[0], stderr=texts[1])


def start(*arguments, **options):
    """One command line in an interpreter of its own, as in a shell."""
    return subprocess.run(
        command(*arguments),
        check=False,
        env=environment() | options.pop("more", {}),
        **({"capture_output": True, "text": True, "encoding": "utf-8"} | options),
    )


def plan(**changes):
    """A print of 60 × 40 mm at 100 ppi."""
    size = {"rule": SizeRule.WIDTH, "width_mm": 60.0, "ppi": 100.0}
    return PlanFile(
        master=MasterSpec(file="master.tif"),
        book="book.toml",
        paper=PAPER,
        printer="Studio 24",
        spec=PrintSpec(
            size=SizeSpec(**size),
            sheet=SheetSpec(media_size="A4", feed="front slot"),
        ),
        **changes,
    )


PLAN_TEXT = plan_file_text(plan())


def snapshot(folder):
    """All files below a folder, by their hashes."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def names_in(folder):
    return [path.name for path in folder.iterdir()]


def small_picture():
    rng = np.random.default_rng(5)
    return rng.integers(0, 65536, (40, 60, 3), np.uint16)


def write_small_master(path, **options):
    romm = named_profile(NamedSpace.ROMM_RGB).data
    tifffile.imwrite(
        path,
        **(
            {"data": small_picture(), "photometric": "rgb", "iccprofile": romm}
            | {"metadata": None}
            | options
        ),
    )


@pytest.fixture(scope="module")
def place(studio, tmp_path_factory):
    """A folder with a plan, its paper book and a small master."""
    folder = tmp_path_factory.mktemp("place")
    write_paper_book(studio.book, folder / "book.toml")
    (folder / "plan.toml").write_text(PLAN_TEXT, encoding="utf-8")
    write_small_master(folder / "master.tif")
    return folder


@pytest.fixture
def half_made(studio, tmp_path):
    """The demo without a master and its book, and with a plan that the user edited."""
    folder = tmp_path / "demo"
    (folder / "masters").mkdir(parents=True)
    for path in studio.folder.rglob("*"):
        target = folder / path.relative_to(studio.folder)
        if target.parent == folder / "masters":
            target.hardlink_to(path)  # 200 MB, and nothing writes to them
        elif path.is_file() and path.suffix in {".icc", ".json"}:
            target.parent.mkdir(exist_ok=True)
            shutil.copy2(path, target)
    (folder / "masters" / studio.scenario.chart.name).unlink()
    text = studio.plan_path.read_text(encoding="utf-8")
    assert "ppi = 300" in text
    edited = text.replace("ppi = 300", "ppi = 150")
    (folder / studio.plan_path.name).write_text(edited, encoding="utf-8")
    return folder


@pytest.mark.slow
def test_demo_makes_what_is_missing_and_keeps_what_is_there(half_made, studio):
    first = run("demo", "--folder", half_made)
    assert (first.returncode, first.stderr) == (0, "")
    making, told, sha256 = first.stdout.splitlines()
    assert making == f"Making masters/{studio.scenario.chart.name}"
    # An A3 sheet (ISO 216) at 150 ppi: 420 × 297 mm over 25.4 mm, times 150.
    (file,) = re.fullmatch(r"(.*\.tif): 2480 × 1754 px at 150 ppi\.", told).groups()
    assert sha256 == f"SHA-256 {digest(Path(file))}"
    with tifffile.TiffFile(file) as tiff:
        assert tiff.pages.first.dtype == np.uint16
        assert tiff.pages.first.tags["XResolution"].value == (150, 1)
    for path in (studio.book_path, *studio.plan_paths, *studio.scenario.masters):
        assert (half_made / path.relative_to(studio.folder)).is_file()
    # The user changes a profile and the book: both are kept, and so is the print.
    profile = half_made / "profiles" / studio.scenario.baryta_profile.name
    profile.write_bytes(b"mine")
    book = half_made / studio.book_path.name
    book.write_text(book.read_text() + "# mine\n")
    printed = Path(file).stat()
    second = run("demo", "--folder", half_made)
    assert (second.returncode, second.stderr) == (0, "")
    assert second.stdout == (
        f"{profile} was changed and was kept.\n{file} is already there and was kept.\n"
    )
    assert profile.read_bytes() == b"mine"
    assert book.read_text().endswith("# mine\n")
    assert Path(file).stat() == printed


HEADER_LINES = 5
"""Picture, white edges, sharpening, intent, file: what `check` tells first."""


def last(text, index=-1):
    return text.splitlines()[index]


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.slow
def test_check_tells_size_and_findings(place):
    """The plan is sound but for its 100 ppi, which the invented printer resamples."""
    found = run("check", place / "plan.toml")
    assert (found.returncode, found.stderr) == (0, "")
    picture, whites, sharpening, intent, file, *findings = found.stdout.splitlines()
    assert picture == "Picture: 60.0 × 40.0 mm at 100 ppi."
    # (297 - 60) / 2 and (210 - 40) / 2 mm of an A4 sheet, turned as the picture lies.
    assert whites == "White edges: left 118.5, top 85.0, right 118.5, foot 85.0 mm."
    assert sharpening == "Sharpening: none."
    assert intent.startswith("Intent: media-relative colorimetric, black point comp")
    # 210 × 297 mm over 0.254 mm.
    assert file.startswith(
        "File: TIFF, 16 bits, 1169 × 827 px, 297.0 × 210.0 mm, in Fen Cotton"
    )
    assert [line.split(":")[0] for line in findings] == ["warn", "note", "note"]


@pytest.mark.slow
def test_plan_in_inches_is_answered_in_inches(place):
    """15 in on a sheet of 11.69 in: problem and remedy in the unit asked in."""
    asked = PLAN_TEXT.replace("width_mm = 60", "width_in = 2")
    assert asked != PLAN_TEXT
    (place / "inches.toml").write_text(asked)
    found = run("check", place / "inches.toml")
    picture, whites, *_ = found.stdout.splitlines()
    assert picture.startswith("Picture: 2.00 × 1.33 in at")
    # (297 / 25.4 - 2) / 2 in.
    assert whites.startswith("White edges: left 4.85, top 3.47, right 4.85")
    assert " mm" not in "".join(found.stdout.splitlines()[:2])
    (place / "wide.toml").write_text(
        PLAN_TEXT.replace("width_mm = 60", "width_in = 15")
    )
    refused = run("check", place / "wide.toml")
    assert refused.returncode == 2
    assert "The picture is 15.00 × 10.00 in; the sheet of 11.69 × 8.27 in takes" in (
        refused.stderr
    )
    assert " mm" not in refused.stderr
    (place / "tiny.toml").write_text(
        PLAN_TEXT.replace("width_mm = 60", "width_in = 0.1")
    )
    out_of_range = run("check", place / "tiny.toml")
    assert "2.54 mm (0.1 in)" in out_of_range.stderr
    assert "(0.2 to 2362.2 in)" in out_of_range.stderr


@pytest.mark.slow
def test_check_ends_with_1_if_the_print_should_stop(place):
    text = PLAN_TEXT.replace(PAPER, "Alder Satin 260")
    (place / "wrong-feed.toml").write_text(text)
    found = run("check", place / "wrong-feed.toml")
    assert (found.returncode, found.stderr) == (1, "")
    assert last(found.stdout, HEADER_LINES).startswith(
        "stop: Alder Satin 260 does not go through"
    )


@pytest.mark.slow
def test_render_writes_once_and_again_only_if_told_so(place, tmp_path):
    out = tmp_path / "print.tif"
    made = start("render", place / "plan.toml", "--out", out)
    assert (made.returncode, made.stderr) == (0, "")
    assert made.stdout == f"{out}: 1169 × 827 px at 100 ppi.\nSHA-256 {digest(out)}\n"
    assert tifffile.imread(out).shape == (827, 1169, 3)
    before = out.stat()
    refused = run("render", place / "plan.toml", "--out", out)
    assert (refused.returncode, refused.stdout) == (2, "")
    problem, remedy = refused.stderr.splitlines()
    assert problem == f"{out} exists already."
    assert remedy.startswith("Choose another name")
    assert out.stat() == before
    again = run("render", place / "plan.toml", "--out", out, "--overwrite")
    assert (again.returncode, again.stdout) == (0, made.stdout)
    assert out.stat().st_ino != before.st_ino
    assert names_in(tmp_path) == ["print.tif"]


@pytest.mark.slow
def test_render_keeps_a_record_that_makes_the_file_again(place, tmp_path):
    out, record = tmp_path / "print.tif", tmp_path / "record.toml"
    made = run("render", place / "plan.toml", "--out", out, "--record", record)
    assert (made.returncode, made.stderr) == (0, "")
    assert last(made.stdout) == f"Its record is {record}."
    again = run("reprint", record)
    assert (again.returncode, again.stderr) == (0, "")
    assert last(again.stdout) == "Identical: the same file, byte for byte."
    assert digest(tmp_path / "print-again.tif") == digest(out)
    refused = run("reprint", record, "--out", out)
    assert (refused.returncode, last(refused.stderr, 0)) == (
        2,
        f"{out} exists already.",
    )
    # A record that does not tell the truth: the file made is not the one it names.
    text = record.read_text().replace("gain = 0", "gain = 1")
    (tmp_path / "other.toml").write_text(text)
    other = run("reprint", tmp_path / "other.toml", "--out", tmp_path / "other.tif")
    assert (other.returncode, other.stderr) == (1, "")
    assert last(other.stdout).startswith("Different pixels")
    told = run("compare", record, tmp_path / "other.toml")
    assert (told.returncode, told.stderr) == (0, "")
    assert last(told.stdout).split() == ["sharpening,", "gain", "0", "1"]


@pytest.mark.slow
def test_record_is_refused_before_its_file_is_made(place, tmp_path):
    record, out = tmp_path / "record.toml", tmp_path / "print.tif"
    record.write_text("mine")
    options = ("--out", out, "--record", record)
    refused = run("render", place / "plan.toml", *options)
    assert refused.returncode == 2
    assert refused.stderr.startswith(f"{record} exists already.\nChoose another name")
    assert names_in(tmp_path) == ["record.toml"]
    assert record.read_text() == "mine"


@pytest.mark.slow
def test_reprint_takes_a_master_that_was_moved(place, tmp_path):
    for name in ("plan.toml", "book.toml", "master.tif"):
        shutil.copy(place / name, tmp_path)
    record = tmp_path / "record.toml"
    options = ("--out", tmp_path / "print.tif", "--record", record)
    assert run("render", tmp_path / "plan.toml", *options).returncode == 0
    (tmp_path / "master.tif").rename(tmp_path / "moved.tif")
    lost = run("reprint", record)
    assert lost.returncode == 2
    assert "--master" in last(lost.stderr)
    found = run("reprint", record, "--master", tmp_path / "moved.tif")
    assert (found.returncode, found.stderr) == (0, "")
    assert last(found.stdout).startswith("Identical")


@pytest.mark.slow
def test_decision_sheet_is_written_as_html_and_as_pdf(place, tmp_path):
    record = tmp_path / "record.toml"
    options = ("--out", tmp_path / "print.tif", "--record", record)
    assert run("render", place / "plan.toml", *options).returncode == 0
    for name, begins in (("sheet.html", b"<!DOCTYPE html>"), ("sheet.pdf", b"%PDF-")):
        page = tmp_path / name
        asked = ("decision-sheet", record, "--out", page, "--edition", "3 of 10")
        written = run(*asked, "--page", "letter")
        assert (written.returncode, written.stderr) == (0, "")
        assert written.stdout == f"The decision sheet is {page}.\n"
        assert page.read_bytes().startswith(begins)
        assert run(*asked).returncode == 2
    assert run(*asked, "--overwrite").returncode == 0
    assert "3 of 10" in (tmp_path / "sheet.html").read_text(encoding="utf-8")
    refused = run("decision-sheet", record, "--out", tmp_path / "sheet.txt")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "sheet.html" in last(refused.stderr)


@pytest.mark.slow
def test_output_goes_where_the_user_is_by_any_name(place, tmp_path):
    """Paths in a plan begin at the plan; what cannot be shown can be a name."""
    name = os.fsdecode(b"caf\xe9 \xc3\xa9.tif")
    more = {"PYTHONIOENCODING": "utf-8:strict"}
    plan_path = os.path.relpath(place / "plan.toml", tmp_path)
    made = start("render", plan_path, "--out", name, cwd=tmp_path, more=more)
    assert (made.returncode, made.stderr) == (0, "")
    assert r"caf\udce9 é.tif: 1169 × 827 px" in made.stdout
    assert names_in(tmp_path) == [name]


def test_version_is_that_of_the_installed_package(tmp_path):
    described = tmp_path / "printplan-98.7.dist-info"
    described.mkdir()
    (described / "METADATA").write_text(
        "Metadata-Version: 2.1\nName: printplan\nVersion: 98.7\n"
    )
    path = os.pathsep.join([str(tmp_path), environment()["PYTHONPATH"]])
    told = start("--version", more={"PYTHONPATH": path})
    assert (told.returncode, told.stdout) == (0, "printplan 98.7\n")


# A mistake, what the command line is, and what the two sentences say. A plan is
# given as a change of its text: what stands there, and what stands there instead.
def in_plan(old, new, master="master.tif"):
    return {"plan": PLAN_TEXT.replace(old, new).replace("master.tif", master)}


WIDTH = "width_mm = 60"
A4 = 'media_size = "A4"'
HUGE = 'media_size = "custom"\nwidth_mm = 20000\nheight_mm = 20000'

MISTAKES = {
    "no such command": (["pirnt"], "No such command", "--help"),
    "no argument": (["check"], "Missing argument", "--help"),
    "one name for two": (
        ["render", "plan.toml", "plan.toml", "--out", "made.tif"],
        "One file was named for 2 plans",
        "Leave --out away",
    ),
    "unknown option": (["check", "--deep", "plan.toml"], "No such option", "--help"),
    "missing plan": (["check", "none.toml"], "no file none.toml", "Check its"),
    "endless plan": (["check", "/dev/zero"], "is a device", "into a file"),
    "endless name of a plan": (["check", "n" * 300], "cannot be found", "shorter"),
    "folder as plan": (["check", "."], ". is a folder", "inside it"),
    "master as plan": (["check", "master.tif"], "is not UTF-8", "Choose a text"),
    "book as plan": (["check", "book.toml"], "the format is", "printplan plan"),
    "bytes as plan": (["check", "bytes.toml"], "is not UTF-8 text", "save it again"),
    "misspelt key": (in_plan("width_mm", "widht_mm"), "[size] widht_mm", "width_mm"),
    "misspelt word": (in_plan('"width"', '"widht"'), "[size] rule", '"width"'),
    "not TOML": (in_plan("[size]", "[size"), "this is not TOML", "Correct"),
    "newer plan": (in_plan("version = 1", "version = 2"), "is 2", "newer printplan"),
    "unknown paper": (in_plan("Fen C", "Fem C"), 'no paper "Fem', '"Fen Cotton 310"?'),
    "unknown printer": (in_plan("dio 24", "dio 42"), "no printer", '"Studio 24"?'),
    "unknown feed": (in_plan("front", "back"), "no feed path 'back", "front slot"),
    "unknown sheet": (in_plan('"A4"', '"A44"'), "'A44' is not known", '"A4"'),
    "missing book": (in_plan("book.toml", "b.toml"), "b.toml.", "Check its"),
    "no book": (in_plan("book.toml", "plan.toml"), "the format is", "paper book"),
    "missing master": (in_plan("master.tif", "none.tif"), "none.tif", "Check its"),
    "folder as master": (in_plan("master.tif", "."), "a folder", "inside it"),
    "truncated master": (in_plan("master.tif", "cut.tif"), "end at byte", "Copy or"),
    "empty master": (in_plan("master.tif", "empty.tif"), "is empty", "Copy or export"),
    "text as master": (in_plan("master.tif", "plan.toml"), "plan.toml", "TIFF"),
    "master in CMYK": (in_plan("master.tif", "cmyk.tif"), "CMYK", "RGB"),
    "master in Lab": (in_plan("master.tif", "lab.tif"), "CIELAB", "RGB"),
    "palette master": (in_plan("master.tif", "palette.tif"), "palette", "RGB"),
    "palette PNG": (in_plan("master.tif", "palette.png"), "palette", "RGB"),
    "no profile": (in_plan("master.tif", "bare.tif"), "profile", "profile"),
    "no such profile": (
        in_plan('le = ""', 'le = "x.icc"', "bare.tif"),
        "x.icc",
        "assume_profile, under [master]",
    ),
    "text as profile": (
        in_plan('le = ""', 'le = "plan.toml"', "bare.tif"),
        "plan.toml",
        "Fetch",
    ),
    "transparent master": (
        in_plan("master.tif", "alpha.tif"),
        "transparen",
        'alpha = "flatten"',
    ),
    "missing paper profile": (
        in_plan("book.t", "lost.t"),
        "lost.icc",
        "Check the path",
    ),
    "damaged paper profile": (in_plan("book.t", "damaged.t"), "damaged.icc", "Fetch"),
    "master's profile": (in_plan("book.t", "space.t"), "an output profile", "made for"),
    "picture above sheet": (in_plan(WIDTH, "width_mm = 290"), "takes", "at most"),
    "no width": (in_plan(WIDTH, "width_mm = 0"), "width is 0 mm", "5 to 60000 mm"),
    "negative width": (in_plan(WIDTH, "width_mm = -60"), "is -60 mm", "from 5 to"),
    "absurd width": (in_plan(WIDTH, "width_mm = 1e300"), "is 1e+300 mm", "from 5 to"),
    "width that is none": (in_plan(WIDTH, "width_mm = nan"), "is nan", "a number"),
    "endless width": (in_plan(WIDTH, "width_mm = inf"), "is inf", "a number"),
    "no resolution": (in_plan("ppi = 100", "ppi = 0"), "is 0 ppi", "30 to 2400 ppi"),
    "absurd resolution": (in_plan("ppi = 100", "ppi = 1e6"), "1e+06 ppi", "2400 ppi"),
    "absurd sheet": (in_plan(A4, HUGE), "thousand million", "or less"),
    "JPEG of inks": (
        in_plan('format = "tiff-16"', 'format = "jpeg"'),
        "without loss",
        "TIFF, 16 bits",
    ),
    "missing folder": ({"out": "none/out.tif"}, "no folder", "Make the folder"),
    "file as folder": ({"out": "plan.toml/out.tif"}, "no folder", "Make the folder"),
    "no files there": ({"out": "/proc/out.tif"}, "/proc", "folder"),
    "folder as output": ({"out": "folder.tif"}, "is not a file", "another name"),
    "wrong suffix": ({"out": "out.png"}, "out.png", "'out.tif'"),
    "no suffix": ({"out": "out"}, "'out'", "'out.tif'"),
    "empty output": ({"out": ""}, "is to be named", "Name it"),
    "endless name": ({"out": f"{'n' * 300}.tif"}, "cannot be written", "usual file"),
    "master as output": (
        {"out": "master.tif", "more": ["--overwrite"]},
        "is the master itself",
        "another name",
    ),
    "link to the master": (
        {"out": "link.tif", "more": ["--overwrite"]},
        "is the master itself",
        "another name",
    ),
    "another's picture as output": (
        {"out": "bare.tif", "more": ["--overwrite"]},
        "is not a file that printplan made",
        "delete it yourself",
    ),
    "existing output": (
        {"out": "bare.tif"},
        "exists already",
        "another name. The option is --overwrite.",
    ),
    "no place for copies": (
        in_plan("master.tif", "packed.tif") | {"cache": "plan.toml/cache"},
        "cannot",
        "PRINTPLAN_CACHE",
    ),
    "demo in a file": (["demo", "--folder", "plan.toml"], "plan.toml", "a folder of"),
    "demo in no place": (["demo", "--folder", "/proc/x"], "/proc/x", "a folder of you"),
    "open in a file": (["open", "--folder", "plan.toml"], "plan.toml", "a folder of"),
}


@pytest.fixture(scope="module")
def ends(place, studio, tmp_path_factory):
    """How each mistake ended: status, output, errors, and the folder afterwards."""
    folder = tmp_path_factory.mktemp("mistakes")
    for name in ("plan.toml", "book.toml", "master.tif"):
        shutil.copy(place / name, folder)
    spoil(folder, studio.book)
    before = snapshot(folder)
    runs = [call(folder, number, it) for number, it in enumerate(MISTAKES.values())]
    plans = {name for name in snapshot(folder) if name not in before}
    ended = []
    for arguments, cache in runs:
        with pytest.MonkeyPatch.context() as patched:
            patched.setenv("PRINTPLAN_CACHE", cache)
            ended.append(run(*arguments, cwd=folder))
    after = snapshot(folder)
    return (
        dict(zip(MISTAKES, ended, strict=True)),
        before,
        {name: found for name, found in after.items() if name not in plans},
    )


def call(folder, number, mistake):
    """Command line of one mistake, and where it keeps working copies."""
    wish = mistake[0]
    if isinstance(wish, list):
        return wish, os.environ["PRINTPLAN_CACHE"]
    path = "plan.toml"
    if "plan" in wish:
        assert wish["plan"] != PLAN_TEXT, mistake
        path = f"plan-{number}.toml"
        (folder / path).write_text(wish["plan"], encoding="utf-8")
    out = wish.get("out", f"out-{number}.tif")
    cache = wish.get("cache", os.environ["PRINTPLAN_CACHE"])
    return ["render", path, "--out", out, *wish.get("more", [])], cache


def spoil(folder, book):
    """Files that are not what they should be."""
    (folder / "bytes.toml").write_bytes(b"note = '\xff'")
    (folder / "empty.tif").touch()
    (folder / "folder.tif").mkdir()
    (folder / "link.tif").symlink_to("master.tif")
    data = (folder / "master.tif").read_bytes()
    (folder / "cut.tif").write_bytes(data[: len(data) // 2])
    picture = small_picture()
    four = np.concatenate([picture, picture[..., :1]], axis=-1)
    separated = {"data": four, "photometric": "separated", "iccprofile": None}
    write_small_master(folder / "cmyk.tif", **separated)
    write_small_master(folder / "lab.tif", photometric="cielab", iccprofile=None)
    write_small_master(folder / "bare.tif", iccprofile=None)
    write_small_master(folder / "alpha.tif", data=four, extrasamples=["unassalpha"])
    write_small_master(folder / "packed.tif", compression="zlib")
    palette = Image.fromarray((picture >> 8).astype(np.uint8)).quantize(16)
    palette.save(folder / "palette.tif")
    palette.save(folder / "palette.png")
    space = named_profile(NamedSpace.SRGB).data
    for name, profile in (("lost", None), ("damaged", space[:200]), ("space", space)):
        if profile is not None:
            (folder / f"{name}.icc").write_bytes(profile)
        paper = book.paper(PAPER)
        pairs = tuple(
            replace(pair, profile=str(folder / f"{name}.icc"), profile_sha256="")
            for pair in paper.on_printer
        )
        papers = (replace(paper, on_printer=pairs),)
        spoiled = PaperBook(printers=book.printers, papers=papers)
        write_paper_book(spoiled, folder / f"{name}.toml")


@pytest.mark.parametrize("mistake", MISTAKES)
def test_mistake_ends_in_problem_and_remedy(ends, mistake):
    ended = ends[0][mistake]
    output, errors = ended.stdout, ended.stderr
    _, problem, remedy = MISTAKES[mistake]
    assert ended.returncode == 2, errors
    assert all(line.startswith("Making ") for line in output.splitlines())
    assert len(errors.splitlines()) == 2, errors
    assert problem in errors.splitlines()[0]
    assert remedy in errors.splitlines()[1]
    assert all(line.endswith((".", "?")) for line in errors.splitlines())


def test_mistakes_leave_nothing_and_change_nothing(ends):
    _, before, after = ends
    assert after == before


def takes_signals():
    """What a shell starts in the background takes none, nor do its children."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.slow
def test_interrupted_render_leaves_nothing(studio, tmp_path):
    out = tmp_path / "print.tif"
    with subprocess.Popen(
        command("render", studio.plan_path, "--out", out),
        env=environment(),
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=takes_signals,  # noqa: PLW1509 - no thread of this test forks
    ) as rendering:
        while not names_in(tmp_path):
            assert rendering.poll() is None
            time.sleep(0.01)
        rendering.send_signal(signal.SIGINT)
        _, errors = rendering.communicate(timeout=60)
    assert rendering.returncode == 130
    assert errors.strip() == "Stopped.\nNo file was left half written."
    assert names_in(tmp_path) == []


@pytest.mark.slow
def test_reader_that_goes_away_is_no_fault(place):
    reading, writing = os.pipe()
    os.close(reading)
    try:
        found = start(
            *("check", place / "plan.toml"),
            capture_output=False,
            stdout=writing,
            stderr=subprocess.PIPE,
        )
    finally:
        os.close(writing)
    assert (found.returncode, found.stderr) == (1, "")


@pytest.mark.slow
def test_fault_of_ours_shows_all_and_says_so(place):
    """What nobody foresaw is told apart from what the user can put right."""
    code = f"import printplan.checks as it; it.check_plan = None; {MAIN}"
    found = subprocess.run(
        [sys.executable, "-c", code, "check", str(place / "plan.toml")],
        check=False,
        capture_output=True,
        text=True,
        env=environment(),
    )
    assert found.returncode == 3
    assert "Traceback" in found.stderr
    assert last(found.stderr, -2).startswith("This is a fault in printplan (TypeError:")
    assert last(found.stderr) == "Report it with all the lines above."


@pytest.mark.slow
def test_terminal_shows_a_bar_and_a_refusal_shows_none(place, tmp_path):
    told = []
    for _ in range(2):
        shown, terminal = os.openpty()
        termios.tcsetwinsize(terminal, (24, 80))
        start(
            *("render", place / "plan.toml", "--out", tmp_path / "print.tif"),
            capture_output=False,
            stdout=subprocess.DEVNULL,
            stderr=terminal,
        )
        os.close(terminal)
        told.append(all_of(shown))
    assert "827/827" in told[0]
    problem, remedy = told[1].splitlines()
    assert problem.endswith("print.tif exists already.")
    assert remedy.startswith("Choose another name")


def all_of(terminal):
    """What was written to a terminal whose other end is closed."""
    parts = []
    with suppress(OSError):  # how its end is told
        while part := os.read(terminal, 10_000):
            parts.append(part)
    os.close(terminal)
    return b"".join(parts).decode()


def test_no_command_shows_what_there_is():
    shown = start()
    assert (shown.returncode, shown.stderr) == (0, "")
    for name in ("check", "demo", "open", "render"):
        assert f"\n  {name} " in shown.stdout


ODD = os.fsdecode(b"print-\xff.tif")
"""A name that is no UTF-8, as a disk of long ago may hold."""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="Names are text there.")
def test_print_whose_record_cannot_name_it_is_refused_before_it_is_made(
    place, tmp_path
):
    record = tmp_path / "record.toml"
    asked = ("render", place / "plan.toml", "--out", tmp_path / ODD)
    refused = run(*asked, "--record", record)
    assert refused.returncode == 2
    assert "no file was made" in refused.stderr
    assert last(refused.stderr).startswith("Rename that file or folder")
    assert names_in(tmp_path) == []
    odd = tmp_path / os.fsdecode(b"\xfe")
    odd.mkdir()
    for name in ("plan.toml", "book.toml", "master.tif"):
        shutil.copy(place / name, odd)
    (odd / "plan.toml").rename(odd / ODD.replace("tif", "toml"))
    refused = run("render", odd / ODD.replace("tif", "toml"))
    assert refused.returncode == 2
    assert "no file was made" in refused.stderr
    assert len(names_in(odd)) == 3


@pytest.mark.slow
def test_record_of_another_kind_is_refused_before_its_file_is_made(place, tmp_path):
    """With --overwrite, too: what printplan did not write is replaced by no option."""
    record, out = tmp_path / "record.toml", tmp_path / "print.tif"
    record.write_text("mine = 1")
    asked = ("render", place / "plan.toml", "--out", out, "--record", record)
    refused = run(*asked, "--overwrite")
    assert refused.returncode == 2
    assert "move that file away yourself" in last(refused.stderr)
    assert names_in(tmp_path) == ["record.toml"]
    assert record.read_text() == "mine = 1"


NO_HOME = """
import os, sys
os.environ.pop("HOME", None)
for name in [it for it in os.environ if it.startswith("XDG_")]:
    del os.environ[name]
import pwd
def no_entry(_):
    raise KeyError
pwd.getpwuid = no_entry
from printplan.own_folders import expanded, own_home
from printplan.workbook.loupe.card_match import matched_screens, screens_path
from printplan.workbook.profile_folders import profile_places
import printplan.cli
print(own_home(), expanded("~/x"), screens_path())
matched_screens()
profile_places()
sys.argv = ["printplan", "check", "none.toml"]
printplan.cli.main()
"""


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="Homes are told otherwise.")
def test_user_without_an_entry_and_without_home_is_served(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", NO_HOME],
        cwd=tmp_path,
        env={it: was for it, was in os.environ.items() if it != "PRINTPLAN_CONFIG"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2, done.stderr
    home, path, screens = done.stdout.split()
    assert (home, path) == (str(tmp_path), "~/x")
    assert "~" not in screens
    assert list(tmp_path.iterdir()) == []
    assert done.stderr.startswith("There is no file none.toml.")


def test_what_takes_long_is_said_once_where_there_is_no_terminal():
    with redirect_stderr(StringIO()) as said:
        with progress_shown("Making it", "parts") as progress:
            progress(0, 3)
            progress(3, 3)
        with progress_shown() as progress:
            progress(3, 3)
    assert said.getvalue() == "Making it …\n"
