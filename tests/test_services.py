"""Files for print services: their limits, their pixels, their bleed, their proof."""

import hashlib
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from printplan.checks import Level, check_plan
from printplan.errors import FitError, RecordError, RenderError, SpecError
from printplan.media import Service, ServicePaper, Surface, service_paper
from printplan.media.printer import service_printer
from printplan.pixels.render import render
from printplan.pixels.sheet import Appearance, build_sheet, varied
from printplan.plan import resolve
from printplan.record.book_changes import change_paper
from printplan.record.job import JobWish, plan_job
from printplan.record.paper_book import read_paper_book, write_paper_book
from printplan.record.plan_file import parse_plan_text, plan_file_text
from printplan.record.record import make_record
from printplan.record.record_file import read_record, write_record
from printplan.record.reprint import Outcome, reprint
from printplan.record.service_plan import for_printer
from printplan.spec import (
    Delivery,
    DeliverySpec,
    FileFormat,
    MasterSpec,
    NamedSpace,
    PrintSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
)

WITH_PROFILE = ServicePaper(
    name="Lapwing Lustre 270",
    surface=Surface.SATIN,
    weight_gsm=270,
    thickness_um=260,
    psf_sigma_um=28,
    proof_profile="to be named",
)
WITHOUT = replace(WITH_PROFILE, name="Plover Matte 230", proof_profile="")


@pytest.fixture(scope="session")
def service(studio):
    """An invented service, one paper of which has a profile of its own."""
    profile = studio.book.papers[1].on(studio.book.printers[0]).profile
    return Service(
        name="Harbour Prints",
        papers=(replace(WITH_PROFILE, proof_profile=profile), WITHOUT),
        named_spaces=(NamedSpace.SRGB, NamedSpace.OPRGB),
        file_formats=(FileFormat.JPEG, FileFormat.TIFF_8),
    )


def planned(master, service, *, width_mm=60.0, ppi=None, paper=0, border_mm=0.0, **of):
    """A plan for the service; what is said of the delivery is taken."""
    printer = service_printer(service)
    chosen = service_paper(service, service.papers[paper])
    wish = PrintSpec(
        size=SizeSpec(rule=SizeRule.WIDTH, width_mm=width_mm, ppi=300),
        sheet=SheetSpec(media_size="A4", feed="none", border_mm=border_mm),
    )
    spec = for_printer(wish, chosen, printer)
    size = spec.size if ppi is None else replace(spec.size, ppi=ppi)
    spec = replace(spec, size=size, delivery=replace(spec.delivery, **of))
    return resolve(master.facts, chosen, printer, spec)


def read_codes(path):
    with Image.open(path) as picture:
        return np.asarray(picture).astype(int)


# The file


def test_file_is_of_the_named_space_and_no_printer_of_the_studio_is_named(
    master_of, textured, service, tmp_path
):
    with master_of(textured) as master:
        plan = planned(master, service)
        made = render(build_sheet(master, plan), tmp_path / "print.jpg")
    assert (plan.printer.name, plan.paper.name) == (service.name, WITH_PROFILE.name)
    with Image.open(made.path) as picture:
        assert b"IEC 61966-2-1" in picture.info["icc_profile"].replace(b"\0", b"")
        assert picture.size == (709, 465)  # 60 mm at 300 ppi, and 210/320 of it


# ITU-T T.81 (1992), Table K.1, first row of the luminance table, and libjpeg's scaling
# of it (jcparam.c, jpeg_quality_scaling), as common as the format itself.
TABLE_K1 = (16, 11, 10, 16, 24, 40, 51, 61)


@pytest.mark.parametrize("quality", [50, 80, 95, 100])
def test_quality_is_that_of_the_quantisation_in_the_file(
    master_of, textured, service, tmp_path, quality
):
    with master_of(textured) as master:
        plan = planned(master, service, jpeg_quality=quality)
        made = render(build_sheet(master, plan), tmp_path / "print.jpg")
    scale = 5000 // quality if quality < 50 else 200 - 2 * quality
    expected = [max((it * scale + 50) // 100, 1) for it in TABLE_K1]
    with Image.open(made.path) as picture:
        # The first row of an 8 × 8 table that the library gives row by row.
        assert list(picture.quantization[0][:8]) == expected


def test_no_quality_asked_for_is_the_file_of_before(
    master_of, textured, service, tmp_path
):
    """95 is what files had before there was a choice."""
    hashes = []
    with master_of(textured) as master:
        for number, quality in enumerate((None, 95)):
            sheet = build_sheet(master, planned(master, service, jpeg_quality=quality))
            made = render(sheet, tmp_path / f"{number}.jpg")
            hashes.append(hashlib.sha256(made.path.read_bytes()).hexdigest())
    assert hashes[0] == hashes[1]


def test_too_long_jpeg_names_the_highest_quality_that_fits(
    master_of, textured, service, tmp_path
):
    with master_of(textured) as master:
        lengths = {}
        for quality in (70, 71, 95):
            plan = planned(master, service, width_mm=120, jpeg_quality=quality)
            made = render(build_sheet(master, plan), tmp_path / f"{quality}.jpg")
            lengths[quality] = made.path.stat().st_size
        assert lengths[70] < lengths[71] < lengths[95]
        most = (lengths[70] + lengths[71]) / 2 / 1e6  # 70 fits, 71 does not
        narrow = replace(service, most_mb=most)
        sheet = build_sheet(master, planned(master, narrow, width_mm=120))
        with pytest.raises(RenderError, match="Choose the JPEG quality 70: tried"):
            render(sheet, tmp_path / "print.jpg")
        assert not (tmp_path / "print.jpg").exists()
        cured = planned(master, narrow, width_mm=120, jpeg_quality=70)
        made = render(build_sheet(master, cured), tmp_path / "print.jpg")
    assert made.path.stat().st_size <= most * 1e6


def test_no_quality_that_would_be_seen_is_proposed(
    master_of, textured, service, tmp_path
):
    with master_of(textured) as master:
        narrow = replace(service, most_mb=0.1)
        wide = build_sheet(master, planned(master, narrow, width_mm=200))
        with pytest.raises(RenderError, match="lower resolution or a smaller print"):
            render(wide, tmp_path / "print.jpg")


# Exact pixels


@pytest.mark.parametrize("edges", [(800, 525), (1200, 788), (333, 219)])
def test_exact_pixels_are_had_by_the_resolution_that_the_remedy_names(
    master_of, textured, service, tmp_path, edges
):
    wanted = {"exact_width_px": edges[0], "exact_height_px": edges[1]}
    with master_of(textured) as master:
        with pytest.raises(SpecError, match="ppi") as refused:
            planned(master, service, **wanted)
        ppi = float(re.search(r"Choose ([\d.]+) ppi", refused.value.remedy)[1])
        plan = planned(master, service, ppi=ppi, **wanted)
        made = render(build_sheet(master, plan), tmp_path / "print.jpg")
    with Image.open(made.path) as picture:
        assert picture.size == edges


def test_exact_pixels_of_another_shape_want_a_crop(
    master_of, textured, service, tmp_path
):
    """A picture is never stretched: the remedy's own area, filled, cures it."""
    wanted = {"exact_width_px": 600, "exact_height_px": 600}
    with master_of(textured) as master:
        with pytest.raises(FitError, match="fill an area, cropped") as refused:
            planned(master, service, **wanted)
        width_mm, height_mm = map(
            float,
            re.search(r"of ([\d.]+) × ([\d.]+) mm", refused.value.remedy).groups(),
        )
        plan = planned(master, service)
        size = SizeSpec(
            rule=SizeRule.FILL,
            width_mm=width_mm,
            height_mm=height_mm,
            ppi=600 * 25.4 / width_mm,
        )
        delivery = replace(plan.delivery, **wanted)
        spec = replace(plan.spec, size=size, delivery=delivery)
        plan = resolve(master.facts, plan.paper, plan.printer, spec)
        made = render(build_sheet(master, plan), tmp_path / "print.jpg")
    assert read_codes(made.path).shape == (600, 600, 3)


@given(
    width_px=st.integers(200, 4000),
    height_px=st.integers(200, 4000),
    bleed_mm=st.sampled_from([0.0, 3.0, 5.0]),
)
def test_what_is_taken_has_the_pixels_that_were_asked_for(
    facts_of, service, width_px, height_px, bleed_mm
):
    """The file has exactly these pixels, or the refusal names a way to it."""
    of = {
        "exact_width_px": width_px,
        "exact_height_px": height_px,
        "bleed_mm": bleed_mm,
    }
    try:
        plan = planned(facts_of, service, **of)
    except FitError as error:
        assert "fill an area" in error.remedy  # noqa: PT017 - the remedy is the claim
        return
    except SpecError as error:
        ppi = float(re.search(r"Choose ([\d.]+) ppi", error.remedy)[1])
        plan = planned(facts_of, service, ppi=ppi, **of)
    assert (plan.file_box.width, plan.file_box.height) == (width_px, height_px)


@pytest.fixture(scope="session")
def facts_of(studio):
    """The facts of a demo master; the rest of it is not opened."""
    from types import SimpleNamespace  # noqa: PLC0415

    from printplan.record.plan_file import open_plan  # noqa: PLC0415

    sheet = open_plan(studio.plan_path)
    with sheet.master:
        return SimpleNamespace(facts=sheet.master.facts)


# Bleed


def test_bleed_is_on_each_side_and_the_print_inside_is_the_size_ordered(
    master_of, textured, service
):
    with master_of(textured) as master:
        plan = planned(master, service, bleed_mm=3.0)
    size = plan.picture_size
    assert size.width_mm == 66.0
    assert size.height_mm == pytest.approx(60 * 210 / 320 + 6)
    assert plan.trimmed_mm == pytest.approx((60, 60 * 210 / 320))
    assert plan.file_box.width == round(66 / 25.4 * 300)
    # The picture is enlarged evenly: one scale for both edges of the crop.
    crop = size.crop
    assert crop.width_px / size.width_mm == pytest.approx(
        crop.height_px / size.height_mm
    )


def test_what_is_trimmed_is_told(master_of, textured, service):
    with master_of(textured) as master:
        plan = planned(master, service, bleed_mm=3.0)
    (found,) = [it for it in check_plan(plan) if it.topic == "bleed"]
    # By area, from the lengths alone: the crop of the master, and the trim.
    width, height = 66.0, 60 * 210 / 320 + 6
    scale = max(width / 320, height / 210)
    kept = width * height / scale**2 / (320 * 210)
    shown = 60 * (60 * 210 / 320) / (width * height)
    assert f"{1 - shown * kept:.1%} of the photograph is not seen" in found.problem


def test_bleed_and_white_border_contradict_each_other(master_of, textured, service):
    with (
        master_of(textured) as master,
        pytest.raises(SpecError, match="white border of 0, or a bleed of 0"),
    ):
        planned(master, service, border_mm=5.0, bleed_mm=3.0)


# Limits


def by_topic(plan, topic):
    return [it for it in check_plan(plan) if it.topic == topic]


@pytest.mark.parametrize(
    "limit", [{"most_pixels": 200_000}, {"longest_px": 500}, {"most_mb": 0.7}]
)
def test_limit_is_kept_by_the_resolution_that_the_finding_names(
    master_of, textured, service, limit
):
    narrow = replace(service, **limit)
    of = {"file_format": FileFormat.TIFF_8}
    with master_of(textured) as master:
        (found,) = by_topic(planned(master, narrow, **of), "service's limits")
        assert found.level is Level.STOP
        ppi = float(re.search(r"Choose ([\d.]+) ppi", found.remedy)[1])
        cured = planned(master, narrow, ppi=ppi, **of)
    assert not by_topic(cured, "service's limits")
    # And the value is not needlessly low: 2 % more is refused.
    with_more = planned(master, narrow, ppi=ppi * 1.02, **of)
    assert by_topic(with_more, "service's limits") or "most_mb" in limit


def test_file_of_another_kind_is_refused(master_of, textured, service):
    with master_of(textured) as master:
        for of, words in (
            ({"named_space": NamedSpace.ROMM_RGB}, "space sRGB"),
            ({"file_format": FileFormat.TIFF_16}, "format jpeg"),
            (
                {
                    "colour": Delivery.PRINTER_COLOUR,
                    "named_space": None,
                    "file_format": FileFormat.TIFF_8,
                },
                "a named space",
            ),
        ):
            with pytest.raises(SpecError, match=words):
                planned(master, service, **of)


def test_converted_file_is_taken_where_the_service_takes_it(
    master_of, textured, service, tmp_path
):
    """The file then holds numbers of the service's own profile."""
    own = replace(service, takes_converted=True)
    of = {"colour": Delivery.PRINTER_COLOUR, "named_space": None}
    of["file_format"] = FileFormat.TIFF_8
    with master_of(textured) as master:
        sheet = build_sheet(master, planned(master, own, **of))
        made = render(sheet, tmp_path / "print.tif")
        with pytest.raises(SpecError, match="a named space"):
            planned(master, own, paper=1, **of)
    profile = Path(service.papers[0].proof_profile).read_bytes()
    with Image.open(made.path) as picture:
        assert picture.info["icc_profile"] == profile


# The proof


def test_proof_is_the_file_s_numbers_through_the_service_s_profile(
    master_of, textured, service, tmp_path
):
    """LittleCMS, asked by itself with the file and the profile, sees the same."""
    from PIL import ImageCms  # noqa: PLC0415

    with master_of(textured) as master:
        plan = planned(master, service, file_format=FileFormat.TIFF_8)
        sheet = build_sheet(master, plan)
        made = render(sheet, tmp_path / "print.tif")
        box = sheet.plan.picture_in_file
        shown = sheet.proof_window(box, Appearance.PAPER_ALONE)
    intent = {
        "perceptual": ImageCms.Intent.PERCEPTUAL,
        "media-relative": ImageCms.Intent.RELATIVE_COLORIMETRIC,
    }[plan.spec.colour.intent]
    with Image.open(made.path) as picture:
        srgb = ImageCms.createProfile("sRGB")
        paper = ImageCms.getOpenProfile(service.papers[0].proof_profile)
        flags = ImageCms.Flags.BLACKPOINTCOMPENSATION
        device = ImageCms.applyTransform(
            picture,
            ImageCms.buildTransform(srgb, paper, "RGB", "RGB", intent, flags=flags),
        )
        screen = ImageCms.applyTransform(
            device,
            ImageCms.buildTransform(
                paper, srgb, "RGB", "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC
            ),
        )
    difference = np.abs(np.asarray(screen).astype(int) - shown)
    # LittleCMS goes through 8 bits here, so codes differ by rounding twice.
    assert np.median(difference) <= 1
    assert np.quantile(difference, 0.99) <= 4


def test_without_a_profile_the_proof_is_of_the_space_and_says_so(
    master_of, textured, service, tmp_path
):
    with master_of(textured) as master:
        plan = planned(master, service, paper=1, file_format=FileFormat.TIFF_8)
        sheet = build_sheet(master, plan)
        made = render(sheet, tmp_path / "print.tif")
        shown = sheet.proof_window(
            sheet.plan.picture_in_file, Appearance.PAPER_ALONE
        ).astype(int)
    assert by_topic(plan, "proof of the space")
    assert np.abs(shown - read_codes(made.path)).max() <= 1


def test_window_is_the_same_box_of_the_file(master_of, textured, service, tmp_path):
    with master_of(textured) as master:
        plan = planned(master, service, bleed_mm=3.0, file_format=FileFormat.TIFF_8)
        sheet = build_sheet(master, plan)
        made = render(sheet, tmp_path / "print.tif")
        box = replace(plan.picture_in_file, left=40, top=30, width=200, height=100)
        window = sheet.window(box)
    assert (window == read_codes(made.path)[30:130, 40:240]).all()


# Files of our own


def test_book_without_services_says_nothing_of_them(studio, tmp_path):
    write_paper_book(studio.book, tmp_path / "book.toml")
    assert "service" not in (tmp_path / "book.toml").read_text("utf-8")


def test_book_with_a_service_comes_back(studio, service, tmp_path):
    book = replace(studio.book, services=(service,))
    write_paper_book(book, tmp_path / "book.toml")
    again = read_paper_book(tmp_path / "book.toml")
    assert again.services == (service,)
    assert again.printer("Harbour Prints").service == service
    assert again.paper(WITHOUT.name).on_printer[0].profile == "sRGB"
    with pytest.raises(RecordError, match="twice"):
        replace(book, services=(replace(service, name=book.printers[0].name),))
    with pytest.raises(RecordError, match="the service's table"):
        change_paper(tmp_path / "book.toml", WITHOUT.name, lambda paper: paper)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"most_mb": 0.0}, "longest file"),
        ({"jpeg_quality": 101}, "1 to 100"),
        ({"papers": ()}, "papers"),
        ({"named_spaces": ()}, "named spaces"),
        ({"bleed_mm": -1.0}, "bleed"),
        ({"name": " "}, "name"),
    ],
)
def test_service_outside_its_ranges_is_refused(service, wrong, words):
    with pytest.raises(SpecError, match=words):
        replace(service, **wrong)


def test_delivery_that_contradicts_itself_is_refused():
    for wrong, words in (
        ({"jpeg_quality": 90}, "Leave the quality out"),
        ({"exact_width_px": 100, "extent": "picture"}, "or neither"),
        ({"bleed_mm": 3.0}, "bleed of 0"),
        ({"exact_width_px": 9, "exact_height_px": 9}, "picture and its border"),
    ):
        with pytest.raises(SpecError, match=words):
            DeliverySpec(**wrong)


@pytest.fixture
def own_book(studio, service, tmp_path):
    path = tmp_path / "paper-book.toml"
    write_paper_book(replace(studio.book, services=(service,)), path)
    return path


def test_job_for_a_service_is_planned_recorded_and_made_again(
    own_book, studio, service, tmp_path
):
    wish = JobWish(
        master=MasterSpec(file=str(studio.folder / "masters" / "stream.tif")),
        printer=service.name,
        paper=WITH_PROFILE.name,
        width_mm=50.0,
    )
    with pytest.raises(SpecError, match="Give the picture's width"):
        plan_job(own_book, replace(wish, width_mm=None))
    plan_file = plan_job(own_book, wish).plan_file
    assert parse_plan_text(plan_file_text(plan_file), where="here") == plan_file
    from printplan.record.plan_file import open_plan_file  # noqa: PLC0415

    sheet = open_plan_file(plan_file)
    with sheet.master:
        made = render(sheet, tmp_path / "print.jpg")
        record = make_record(
            sheet, [], made, made_on=datetime.now(tz=UTC), plan_file=plan_file
        )
    write_record(record, tmp_path / "print.toml")
    again = read_record(tmp_path / "print.toml")
    assert again.printer.service == service
    made_again = reprint(again, tmp_path / "again.jpg")
    assert made_again.outcome is Outcome.IDENTICAL


def test_back_on_a_printer_of_the_studio_all_of_the_service_is_gone(
    studio, service, master_of, textured
):
    with master_of(textured) as master:
        plan = planned(master, service, bleed_mm=3.0, jpeg_quality=90)
        printer, paper = studio.book.printers[0], studio.book.papers[0]
        spec = for_printer(plan.spec, paper, printer)
        back = resolve(master.facts, paper, printer, spec)
        assert back.delivery == DeliverySpec(file_format=FileFormat.TIFF_16)
        assert back.spec.size.width_mm == plan.spec.size.width_mm
        varied(build_sheet(master, back), spec)
