"""Orders for a print service: whole folders, checksums, the order sheet."""

import csv
import hashlib
import io
import os
import subprocess
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pikepdf
import pytest
import tifffile
from click.testing import CliRunner
from PIL import Image

from printplan.cli import cli
from printplan.colour.spaces import named_profile
from printplan.errors import PrintPlanError, RecordError, RenderError, SpecError
from printplan.media import Service, ServicePaper, service_paper
from printplan.media.printer import service_printer
from printplan.pixels.render import render
from printplan.record import sums
from printplan.record.deliver import clear_left_orders, deliver
from printplan.record.order_sheet import Order, OrderLine, order_csv, order_pdf
from printplan.record.paper_book import write_paper_book
from printplan.record.plan_file import PlanFile, open_plan, write_plan_file
from printplan.record.record_file import read_record
from printplan.record.reprint import Outcome, reprint
from printplan.record.service_plan import for_printer
from printplan.record.sums import SUMS_NAME, read_sums, verify_folder
from printplan.spec import (
    MasterSpec,
    NamedSpace,
    PrintSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

NOON = datetime(2031, 5, 3, 12, tzinfo=UTC)
SERVICE = Service(
    name="Harbour Prints",
    papers=(
        ServicePaper(
            name="Plover Matte 230",
            surface="matte",
            weight_gsm=230,
            thickness_um=320,
            psf_sigma_um=45,
        ),
    ),
    bleed_mm=3,
    instructions="rolled, in a tube",
)


@pytest.fixture
def order(studio, textured, tmp_path):
    """Two plans for the service, of a small master, and where the order is to go."""
    pixels = textured[:100, :160]
    tifffile.imwrite(
        tmp_path / "waves.tif",
        pixels,
        photometric="rgb",
        iccprofile=named_profile(NamedSpace.ROMM_RGB).data,
        metadata=None,
    )
    book = replace(studio.book, services=(SERVICE,))
    write_paper_book(book, tmp_path / "paper-book.toml")
    paper, printer = service_paper(SERVICE, SERVICE.papers[0]), service_printer(SERVICE)
    paths = []
    for name, width_mm, copies in (("Wide one", 40.0, 2), ("small", 25.0, 1)):
        spec = for_printer(
            PrintSpec(
                size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=200),
                sheet=SheetSpec(media_size="A4", feed="none"),
            ),
            paper,
            printer,
        )
        spec = replace(spec, delivery=replace(spec.delivery, copies=copies))
        wish = PlanFile(
            master=MasterSpec(file="waves.tif"),
            book="paper-book.toml",
            paper=paper.name,
            printer=printer.name,
            spec=spec,
        )
        paths.append(tmp_path / f"{name}.toml")
        write_plan_file(wish, paths[-1])
    return paths, tmp_path / "order"


def delivered(order):
    plans, folder = order
    return deliver(plans, folder, made_on=NOON)


@pytest.mark.tools("sha256sum")
def test_sha256sum_finds_every_file_as_it_was(order):
    """The check that a service makes, by GNU's own program."""
    made = delivered(order)
    checked = subprocess.run(
        ["sha256sum", "--strict", "-c", SUMS_NAME],
        cwd=made.folder,
        capture_output=True,
        text=True,
        check=True,
    )
    assert checked.stdout.splitlines() == [
        "01-wide-one.jpg: OK",
        "02-small.jpg: OK",
        "order.pdf: OK",
        "order.csv: OK",
    ]
    assert verify_folder(made.folder).is_whole


def test_file_is_that_of_a_render(order, tmp_path):
    made = delivered(order)
    sheet = open_plan(order[0][0])
    with sheet.master:
        alone = render(sheet, tmp_path / "alone.jpg")
    assert (made.folder / "01-wide-one.jpg").read_bytes() == alone.path.read_bytes()


def test_order_says_what_the_files_are(order):
    """Sizes by the pixels and the resolution in the files, as Pillow reads them."""
    made = delivered(order)
    text = (made.folder / "order.csv").read_bytes().decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["copies"] for row in rows] == ["2", "1"]
    for row in rows:
        path = made.folder / row["file"]
        with Image.open(path) as picture:
            edges_mm = [edge / picture.info["dpi"][0] * 25.4 for edge in picture.size]
            assert row["pixels"].startswith("{} × {} px".format(*picture.size))
        told = [float(it) for it in row["size"].removesuffix(" mm").split(" × ")]
        for edge_mm, told_mm in zip(edges_mm, told, strict=True):
            assert told_mm == pytest.approx(edge_mm - 2 * 3, abs=0.06)
        assert row["bleed"] == "3 mm"
        assert row["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
        assert float(row["megabytes"]) == pytest.approx(
            path.stat().st_size / 1e6, abs=5e-4
        )
    assert made.order.total.startswith("3 prints of 2 files, ")


def test_record_beside_the_plan_makes_the_file_again(order, tmp_path):
    made = delivered(order)
    assert not list(made.folder.glob("*.toml"))
    record = read_record(made.records[0])
    again = reprint(record, tmp_path / "again.jpg")
    assert again.outcome is Outcome.IDENTICAL


def test_order_that_fails_leaves_no_folder(order, monkeypatch):
    plans, folder = order
    before = sorted(folder.parent.iterdir())
    plans[1].write_text(plans[1].read_text("utf-8").replace("Plover", "Plower"))
    with pytest.raises(PrintPlanError, match=r"small.toml: .*Plower"):
        delivered(order)
    assert sorted(folder.parent.iterdir()) == before
    monkeypatch.setattr("printplan.record.deliver.file_sha256", lambda _: "0" * 64)
    with pytest.raises(RenderError, match="no longer as it was written"):
        deliver(plans[:1], folder, made_on=NOON)
    assert sorted(folder.parent.iterdir()) == before


def test_nothing_that_is_there_is_replaced(order):
    order[1].mkdir()
    with pytest.raises(RecordError, match="gets a new folder"):
        delivered(order)
    assert list(order[1].iterdir()) == []


@pytest.mark.parametrize("others", [False, True])
def test_folder_left_by_a_killed_process_goes_unless_others_use_it(tmp_path, others):
    left = tmp_path / f".printplan-{'0' * 16}.part"
    left.mkdir()
    for name in ("01-print.jpg", f".printplan-{'1' * 16}.part", "order.pdf"):
        (left / name).write_bytes(b"half")
    if others:
        (left / "letter.txt").write_bytes(b"somebody's")
    os.utime(left, (0, 0))
    clear_left_orders(tmp_path)
    assert [it.name for it in left.glob("*")] == ["letter.txt"] * others
    assert left.exists() is others


def test_plan_for_somebody_else_is_refused(order, studio):
    plans, folder = order
    with pytest.raises(SpecError, match="Plan it for Cliff Prints"):
        deliver(plans, folder, made_on=NOON, service="Cliff Prints")
    with pytest.raises(SpecError, match="printer of the studio"):
        deliver([*plans, studio.plan_path], folder, made_on=NOON)
    assert not folder.exists()


def test_what_the_service_does_not_take_is_not_delivered(order):
    plans, folder = order
    book = folder.parent / "paper-book.toml"
    text = book.read_text("utf-8")
    book.write_text(text.replace("bleed_mm = 3", "longest_px = 300\nbleed_mm = 3", 1))
    with pytest.raises(SpecError, match=r"Wide one.*at most 300 px"):
        deliver(plans, folder, made_on=NOON)


# Checksums


@pytest.fixture
def folder(tmp_path):
    """A folder of files with odd names, and sums that GNU's program wrote."""
    place = tmp_path / "sums"
    place.mkdir()
    for name in ("a.jpg", "two words.jpg", "ö – 日本.tif", "back\\slash", "empty"):
        (place / name).write_bytes(b"" if name == "empty" else name.encode())
    names = sorted(it.name for it in place.iterdir())
    written = subprocess.run(
        ["sha256sum", "--", *names], cwd=place, capture_output=True, check=True
    )
    (place / SUMS_NAME).write_bytes(written.stdout)
    return place


@pytest.mark.tools("sha256sum")
def test_sums_of_gnu_are_read(folder):
    assert b"\\\\" in (folder / SUMS_NAME).read_bytes()  # its escape is among them
    report = verify_folder(folder)
    assert report.is_whole
    assert len(report.sound) == 5


@pytest.mark.tools("sha256sum")
def test_changed_missing_and_extra_are_told_apart(folder):
    (folder / "a.jpg").write_bytes(b"another")
    (folder / "two words.jpg").unlink()
    (folder / "more.txt").write_bytes(b"more")
    report = verify_folder(folder)
    assert report.changed == ("a.jpg",)
    assert report.missing == ("two words.jpg",)
    assert report.extra == ("more.txt",)
    shown = CliRunner().invoke(cli, ["verify", str(folder)])
    assert shown.exit_code == 1
    assert shown.output.splitlines() == [
        "changed: a.jpg",
        "missing: two words.jpg",
        "not listed: more.txt",
    ]


@pytest.mark.tools("sha256sum")
def test_link_in_the_place_of_a_file_is_no_file(folder, tmp_path):
    """Its target may be anything, so it is not opened."""
    same = (folder / "a.jpg").read_bytes()
    (tmp_path / "elsewhere").write_bytes(same)
    (folder / "a.jpg").unlink()
    (folder / "a.jpg").symlink_to(tmp_path / "elsewhere")
    assert verify_folder(folder).changed == ("a.jpg",)


@pytest.mark.parametrize(
    "name", ["../a.jpg", "/etc/hostname", "..", "sub/a.jpg", ".", "x\0y"]
)
def test_list_cannot_lead_out_of_its_folder(name):
    line = f"{'0' * 64}  {name}\n"
    with pytest.raises(RecordError, match="Trust neither"):
        read_sums(line, where="SHA256SUMS")


@pytest.mark.parametrize(
    "text",
    [
        "what is this\n",
        f"{'0' * 63}  short\n",
        f"{'0' * 64} one blank\n",
        f"{'0' * 64}  twice\n" * 2,
    ],
)
def test_list_that_is_none_is_refused_by_its_line(text):
    with pytest.raises(RecordError, match=r"SHA256SUMS, line [12] "):
        read_sums(text, where="SHA256SUMS")


@pytest.mark.tools("sha256sum")
def test_endless_list_is_not_read(folder, monkeypatch):
    monkeypatch.setattr(sums, "_MOST_SUMS_BYTES", 100)
    with pytest.raises(RecordError, match="longer than"):
        verify_folder(folder)


# The sheet


def line(number, **words):
    return OrderLine(
        **(
            {
                "file": f"{number:02d}-print.jpg",
                "paper": "Plover Matte 230",
                "copies": number,
                "size": "300.0 × 200.0 mm",
                "bleed": "3 mm",
                "border": "none",
                "pixels": "3614 × 2433 px at 300 ppi",
                "colour": "sRGB",
                "megabytes": 3.0,
                "sha256": "ab" * 32,
            }
            | words
        )
    )


@pytest.mark.tools("pdftotext")
def test_long_order_goes_on_over_pages_and_loses_no_file(tmp_path):
    lines = tuple(line(number) for number in range(1, 31))
    order = Order(service="Harbour Prints", finish="", made_on=NOON.date(), lines=lines)
    path = tmp_path / "order.pdf"
    path.write_bytes(order_pdf(order))
    with pikepdf.open(path) as pdf:
        pages = len(pdf.pages)
    text = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert text.count("\f") == pages > 5
    for one in lines:
        assert one.file in text
    assert f"Total: {sum(range(1, 31))} prints of 30 files, 90.0 MB" in text
    # The last line of a file stands on the page of its first.
    for page in text.split("\f")[:-1]:
        assert page.count("SHA-256  ") == page.count("Size on paper")


def test_words_of_others_are_shown_and_begin_no_formula():
    strange = line(1, paper="=HYPERLINK(1)", colour="profile of \u202egnp")
    order = Order(
        service="A\nB\x1b[2J", finish="", made_on=NOON.date(), lines=(strange,)
    )
    assert order_pdf(order).startswith(b"%PDF")
    (row,) = csv.DictReader(io.StringIO(order_csv(order)))
    assert row["paper"] == "'=HYPERLINK(1)"


def test_pixels_of_a_delivered_file_are_the_plan_s(order):
    """What is looked at before is what is sent: a window, as Pillow reads the file."""
    made = delivered(order)
    sheet = open_plan(order[0][1])
    with sheet.master:
        window = sheet.window(sheet.plan.picture_in_file)
    with Image.open(made.folder / "02-small.jpg") as picture:
        codes = np.asarray(picture).astype(int)
    # JPEG at 95 without subsampling: a few codes, on this hard texture.
    assert np.mean(np.abs(codes - window)) < 2.5
