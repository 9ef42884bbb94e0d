import io
import re
from dataclasses import replace
from types import SimpleNamespace

import colour
import numpy as np
import pytest
from PIL import Image, ImageCms

from printplan.colour.spaces import named_profile
from printplan.errors import FitError, RecordError, SpecError
from printplan.media import Stock
from printplan.pixels.consequences import picture_colours
from printplan.record import job as job_module
from printplan.record.job import JobWish, plan_job, write_job
from printplan.record.new_studio import new_studio
from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book
from printplan.record.plan_file import open_plan, read_plan_file
from printplan.record.studio_folder import book_near
from printplan.spec import Intent, MasterSpec, NamedSpace, SizeRule
from printplan.units import LengthUnit

PAPER, PRINTER = "Fen Cotton 310", "Studio 24"


def smooth(width_px, height_px):
    """A saturated picture in 8 bits, with a shadow and a light end."""
    rows, columns = np.mgrid[0:height_px, 0:width_px]
    across, down = columns / width_px, rows / height_px
    waves = [np.sin(6 * across + 2 * down + phase) for phase in (0, 2, 4)]
    return np.rint(127.5 + 127.5 * np.stack(waves, axis=-1)).astype(np.uint8)


def save_photograph(path, *, width_px=1500, height_px=1000):
    Image.fromarray(smooth(width_px, height_px)).save(
        path, quality=95, icc_profile=named_profile(NamedSpace.SRGB).data
    )


@pytest.fixture
def own(tmp_path, studio):
    """A studio of one's own, with the demo's printer and one of its papers."""
    made = new_studio(tmp_path / "mine")
    book = studio.book
    made.book_path.unlink()
    write_paper_book(
        PaperBook(printers=book.printers, papers=(book.paper(PAPER),)), made.book_path
    )
    save_photograph(made.folder / "masters" / "Bowl at noon.jpg")
    return made


def wish(own, **said):
    photograph = own.folder / "masters" / "Bowl at noon.jpg"
    return JobWish(master=MasterSpec(file=str(photograph)), **said)


def test_what_is_said_is_kept_and_the_rest_is_chosen(own):
    planned = plan_job(own.book_path, wish(own, width_mm=200.0, media_size="A4"))
    spec = planned.plan_file.spec
    assert (spec.size.rule, spec.size.width_mm) == (SizeRule.WIDTH, 200.0)
    assert spec.sheet.media_size == "A4"
    assert (planned.plan_file.paper, planned.plan_file.printer) == (PAPER, PRINTER)
    # 1500 px on 200 mm are 190.5 an inch; the printer takes 300 and more as they are.
    assert spec.size.ppi == min(read_paper_book(own.book_path).printers[0].input_ppi)
    assert spec.sharpen.restore == 1.0
    # The diagonal of 200 mm × 133.3 mm is 240.4 mm; small prints are held at 250.
    assert spec.sharpen.distance_mm == 250.0
    assert planned.plan_file.note == ""


def test_each_choice_has_its_line(own):
    said = plan_job(own.book_path, wish(own, width_mm=200.0, media_size="A4")).reasons
    starts = [line.partition(":")[0] for line in said]
    assert starts == [
        "Paper",
        "Size",
        "Sheet",
        "Feed path",
        "Resolution",
        "Intent",
        "Sharpening",
        "File",
    ]
    assert "200.0 × 133.3 mm, as asked" in said[1]
    assert "190 pixels an inch" in said[4]


def test_without_a_size_the_picture_is_the_largest_in_the_middle(own, studio):
    feed = read_paper_book(own.book_path).paper(PAPER).on_printer[0].feeds[0]
    planned = plan_job(own.book_path, wish(own, media_size="A4", feed=feed))
    margins = studio.book.printers[0].feed(feed).margins
    # A4 goes in by its shorter edge; the photograph lies across it, turned.
    along = 297 - 2 * max(margins.leading_mm, margins.trailing_mm)
    across = 210 - 2 * max(margins.left_mm, margins.right_mm)
    size = planned.plan_file.spec.size
    assert size.rule is SizeRule.FIT
    assert sorted((size.width_mm, size.height_mm)) == pytest.approx(
        sorted((np.floor(along), np.floor(across)))
    )
    sheet = open_plan(write_job(planned, own.folder / "jobs"))
    with sheet.master:
        printed = sheet.plan.picture_size
        assert printed.width_mm / printed.height_mm == pytest.approx(1.5, rel=1e-3)
        assert printed.width_mm == pytest.approx(
            min(np.floor(along), 1.5 * np.floor(across)), abs=0.1
        )


def test_first_kept_sheet_that_takes_the_picture_is_taken(own):
    def kept(*sizes):
        book = read_paper_book(own.book_path)
        paper = replace(
            book.papers[0], stock=tuple(Stock(sheet=size) for size in sizes)
        )
        write_paper_book(replace(book, papers=(paper,)), own.book_path, overwrite=True)

    kept("A4", "A3", "A2")
    planned = plan_job(own.book_path, wish(own, width_mm=350.0))
    assert planned.plan_file.spec.sheet.media_size == "A3"
    kept("A4")
    with pytest.raises(FitError, match="Choose"):
        plan_job(own.book_path, wish(own, width_mm=350.0))
    kept()
    with pytest.raises(RecordError, match="Name the sheet"):
        plan_job(own.book_path, wish(own, width_mm=350.0))


def in_8_bits(lab):
    """Colours on the steps of Lab in 8 bits, as Pillow holds them."""
    lightness = (lab[:, 0] * 255 / 100).round().clip(0, 255).astype(np.uint8)
    hue = lab[:, 1:].round().clip(-128, 127).astype(np.int8).view(np.uint8)
    return np.column_stack([lightness, hue])


def from_8_bits(codes):
    hue = np.ascontiguousarray(codes[:, 1:]).view(np.int8)
    return np.column_stack([codes[:, 0] * (100 / 255), hue]).astype(float)


def printed_by_littlecms(codes, profile, intent):
    """Colours to the printer and back, by another engine."""
    picture = Image.frombytes("LAB", (len(codes), 1), codes.tobytes())
    output = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    pcs = ImageCms.createProfile("LAB")
    bpc = ImageCms.Flags.BLACKPOINTCOMPENSATION
    there = ImageCms.buildTransform(pcs, output, "LAB", "RGB", intent, flags=bpc)
    back = ImageCms.buildTransform(
        output, pcs, "RGB", "LAB", ImageCms.Intent.RELATIVE_COLORIMETRIC
    )
    seen = ImageCms.applyTransform(ImageCms.applyTransform(picture, there), back)
    return np.frombuffer(seen.tobytes(), np.uint8).reshape(-1, 3)


def test_intent_costs_what_another_engine_says(own):
    """LittleCMS, through Pillow, prints the picture's colours under that intent."""
    planned = plan_job(own.book_path, wish(own, width_mm=200.0, media_size="A4"))
    sheet = open_plan(write_job(planned, own.folder / "jobs"))
    with sheet.master:
        asked = in_8_bits(picture_colours(sheet))
        profile = sheet.output.data
    number = {
        Intent.PERCEPTUAL: ImageCms.Intent.PERCEPTUAL,
        Intent.MEDIA_RELATIVE: ImageCms.Intent.RELATIVE_COLORIMETRIC,
    }[planned.plan_file.spec.colour.intent]
    seen = printed_by_littlecms(asked, profile, number)
    mean = float(colour.delta_E(from_8_bits(asked), from_8_bits(seen)).mean())
    said = re.search(r"mean difference is ([\d.]+) dE00", planned.reasons[5])
    # Steps of 8 bits in Lab and in RGB, and their own reading of the black point.
    assert float(said[1]) == pytest.approx(mean, abs=0.4)


def test_several_papers_have_to_be_named(own):
    book = read_paper_book(own.book_path)
    both = (book.papers[0], replace(book.papers[0], name="Sedge"))
    write_paper_book(replace(book, papers=both), own.book_path, overwrite=True)
    with pytest.raises(RecordError, match="Name the paper") as caught:
        plan_job(own.book_path, wish(own, width_mm=200.0))
    assert '"Sedge"' in caught.value.problem
    resting = (both[0], replace(both[1], in_use=False))
    write_paper_book(replace(book, papers=resting), own.book_path, overwrite=True)
    planned = plan_job(own.book_path, wish(own, width_mm=200.0, media_size="A4"))
    assert planned.plan_file.paper == PAPER


def test_two_lengths_are_refused(own):
    with pytest.raises(SpecError, match="Give one"):
        plan_job(own.book_path, wish(own, width_mm=200.0, height_mm=100.0))


def test_job_is_written_beside_others_and_moves_with_its_studio(own):
    planned = plan_job(own.book_path, wish(own, width_mm=200.0, media_size="A4"))
    first = write_job(planned, own.folder / "jobs")
    second = write_job(planned, own.folder / "jobs")
    assert first.name == "bowl-at-noon-on-fen-cotton-310.toml"
    assert first != second
    written = read_plan_file(first)
    assert written.master.file == "../masters/Bowl at noon.jpg"
    assert written.book == "../paper-book.toml"
    moved = own.folder.rename(own.folder.with_name("elsewhere"))
    sheet = open_plan(moved / "jobs" / first.name)
    with sheet.master:
        assert sheet.plan.spec == planned.plan_file.spec


def test_unit_of_the_studio_is_the_plan_s(own):
    book = read_paper_book(own.book_path)
    write_paper_book(
        replace(book, lengths_in=LengthUnit.INCHES), own.book_path, overwrite=True
    )
    planned = plan_job(own.book_path, wish(own, media_size="A4"))
    spec = planned.plan_file.spec
    assert spec.lengths_in is LengthUnit.INCHES
    # Whole tenths of an inch.
    assert spec.size.width_mm / 2.54 == pytest.approx(round(spec.size.width_mm / 2.54))
    assert any(" in" in line for line in planned.reasons)


def test_new_studio_is_empty_valid_and_never_over_another(tmp_path):
    made = new_studio(tmp_path / "mine", lengths_in=LengthUnit.INCHES)
    book = read_paper_book(made.book_path)
    assert (book.printers, book.papers) == ((), ())
    assert book.lengths_in is LengthUnit.INCHES
    before = made.book_path.read_text()
    with pytest.raises(RecordError, match="is a studio already"):
        new_studio(tmp_path / "mine")
    assert made.book_path.read_text() == before
    assert book_near(made.folder / "masters") == made.book_path
    assert book_near(tmp_path) is None


def test_the_least_resolution_that_keeps_all_of_the_master_is_taken():
    printer = SimpleNamespace(input_ppi=(300.0, 360.0, 720.0))
    taken = [job_module._ppi(printer, it) for it in (299, 300, 301, 900)]
    assert taken == [300, 300, 360, 720]
