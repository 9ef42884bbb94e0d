"""One master in several sizes: plans, the largest size, details at true size."""

import re
from math import radians, tan

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner

from printplan.cli import cli
from printplan.colour.spaces import named_profile
from printplan.errors import SpecError
from printplan.pixels.family_strips import true_size_strips
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.record.family import (
    FamilyWish,
    family_problems,
    family_rows,
    plan_family,
    write_family,
)
from printplan.record.plan_file import open_plan
from printplan.spec import MasterSpec, NamedSpace
from printplan.workbook.panels.family import FamilyPanel

ROOM = Appearance.PAPER_IN_THE_ROOM
PAPER = "Heron Baryta 315"


def write_master(path, pixels):
    profile = named_profile(NamedSpace.ROMM_RGB).data
    tifffile.imwrite(path, pixels, photometric="rgb", iccprofile=profile, metadata=None)
    return path


@pytest.fixture(scope="module")
def photograph(tmp_path_factory):
    """Waves, finest in the middle: 900 × 600 pixels, none of them interpolated."""
    rows, columns = np.indices((600, 900))
    across = np.sin((columns - 450) ** 2 / 900) * np.sin((rows - 300) ** 2 / 700)
    noise = np.random.default_rng(5).normal(0, 0.02, (600, 900, 1))
    light = 0.5 + 0.35 * across[..., None] + noise + np.zeros(3)
    pixels = np.rint(np.clip(light, 0, 1) * 65535).astype(np.uint16)
    return write_master(tmp_path_factory.mktemp("family") / "waves.tif", pixels)


@pytest.fixture(scope="module")
def family(studio, photograph):
    wish = FamilyWish(
        master=MasterSpec(file=str(photograph)),
        longest_mm=(180.0, 60.0, 900.0),
        papers=(PAPER,),
        distance_mm=400.0,
    )
    return plan_family(studio.folder / "paper-book.toml", wish)


def test_each_size_is_sharpened_for_itself(family):
    small, large, _ = family.members
    assert (small.longest_mm, large.longest_mm) == (60.0, 180.0)
    one, other = small.plan.spec.sharpen, large.plan.spec.sharpen
    assert one.distance_mm == other.distance_mm == 400.0
    assert (one.gain, one.radius_mm) != (other.gain, other.radius_mm)
    for member in (small, large):
        assert any(it.startswith("Sharpening: ") for it in member.planned.reasons)


def test_own_resolution_and_largest_size_are_closed_forms(family):
    small, large, _ = family.members
    assert small.own_ppi == pytest.approx(900 / 60 * 25.4)
    assert large.own_ppi == pytest.approx(900 / 180 * 25.4)
    # One arcminute (ISO 8596:2017, acuity 1.0) at 400 mm is 0.1164 mm on paper.
    pitch_mm = 400 * tan(radians(1 / 60))
    assert family.largest_mm == pytest.approx(900 * pitch_mm)
    assert [small.is_good, large.is_good] == [True, False]
    assert "104.7 mm" in family.largest_words


def test_size_that_no_sheet_takes_says_so_and_stops_no_other(family):
    refused = family.members[-1]
    assert refused.plan is None
    (words,) = family_problems(family)
    assert words.startswith(f"900.0 mm {PAPER}: The picture is 900.0 × 600.0 mm")
    assert [row[2] for row in family_rows(family)[1:]].count("cannot be made") == 1


def test_table_says_what_the_plans_say(family):
    head, *rows = family_rows(family)
    for member, row in zip(family.members[:2], rows[:2], strict=True):
        told = dict(zip(head, row, strict=True))
        assert told["ppi of the file"] == f"{member.plan.ppi:g}"
        assert told["gain"] == f"{member.plan.spec.sharpen.gain:.2f}"
        own, _, eye = told["ppi of the master / that the eye resolves"].partition(" / ")
        assert float(own) == round(member.own_ppi)
        assert float(eye) == round(25.4 / (400 * tan(radians(1 / 60))))
        assert told["paper cost"].endswith("EUR")


def test_enlarged_master_has_fewer_pixels_of_its_own(studio, tmp_path):
    from PIL import Image  # noqa: PLC0415

    # Fine noise, enlarged twice by another library: at most half is its own.
    fine = np.random.default_rng(1).integers(0, 256, (400, 600, 3), np.uint8)
    twice = np.asarray(Image.fromarray(fine).resize((1200, 800), Image.BICUBIC))
    master = write_master(tmp_path / "twice.tif", twice.astype(np.uint16) * 257)
    wish = FamilyWish(
        master=MasterSpec(file=str(master)),
        longest_mm=(9000.0,),  # which no sheet takes: nothing is planned
        papers=(PAPER,),
        distance_mm=400.0,
    )
    family = plan_family(studio.folder / "paper-book.toml", wish)
    assert family.own_share == pytest.approx(0.5, abs=0.03)
    pitch_mm = 400 * tan(radians(1 / 60))
    assert family.largest_mm == pytest.approx(600 * pitch_mm, rel=0.06)
    assert "enlarged before" in family.largest_words


def test_plans_are_jobs_named_after_their_size(family, tmp_path):
    paths = write_family(family, tmp_path / "jobs")
    assert [it.name for it in paths] == [
        "waves-60mm-on-heron-baryta-315.toml",
        "waves-180mm-on-heron-baryta-315.toml",
    ]
    sheet = open_plan(paths[1])
    with sheet.master:
        assert sheet.plan.spec == family.members[1].plan.spec


def test_no_size_is_refused(studio, photograph):
    wish = FamilyWish(master=MasterSpec(file=str(photograph)), longest_mm=())
    with pytest.raises(SpecError, match="Give one size or more"):
        plan_family(studio.folder / "paper-book.toml", wish)


def test_command_shows_the_table_and_writes_nothing_if_asked(studio, photograph):
    asked = ["family", str(photograph), "--size", "60mm", "--paper", PAPER]
    book = str(studio.folder / "paper-book.toml")
    shown = CliRunner().invoke(cli, [*asked, "--book", book, "--dry-run"])
    assert shown.exit_code == 0, shown.output
    assert "60.0 × 40.0 mm" in shown.output
    assert "Largest good print" in shown.output
    assert "The plan is" not in shown.output


# Details at true size


@pytest.fixture(scope="module")
def sheets(family, photograph):
    with open_master(photograph) as master:
        plans = [it.plan for it in family.members if it.plan is not None]
        yield [build_sheet(master, plan) for plan in plans]


def test_detail_is_what_its_own_print_shows_there(sheets, tmp_path):
    """The window law: the strip is the proof of the same box of the written file."""
    strips = true_size_strips(sheets, ROOM, widest_mm=20)
    for number, (sheet, strip) in enumerate(zip(sheets, strips, strict=True)):
        made = render(sheet, tmp_path / f"{number}.tif")
        box = strip.box
        codes = tifffile.imread(made.path)
        values = codes[box.top : box.bottom, box.left : box.right]
        assert (sheet.proof(values, ROOM) == strip.pixels).all()


def test_detail_is_the_same_of_the_master_and_as_large_as_each_print_makes_it(sheets):
    strips = true_size_strips(sheets, ROOM, across_share=0.3, down_share=0.7)
    shown = []
    for sheet, strip in zip(sheets, strips, strict=True):
        picture = sheet.plan.picture_in_file
        scale = picture.width / 900  # print pixels per master pixel, by the whole edge
        shown.append(
            (
                (strip.box.left - picture.left + strip.box.width / 2) / scale,
                (strip.box.top - picture.top + strip.box.height / 2) / scale,
                strip.box.width / scale,
            )
        )
    # Each edge is rounded to a whole print pixel, of 2.6 master pixels at most.
    assert shown[0] == pytest.approx(shown[1], abs=1.5)
    small, large = strips
    # 60 mm and 180 mm of one master: three times as large.
    assert large.width_mm == pytest.approx(60, abs=0.1)
    assert large.width_mm / small.width_mm == pytest.approx(3, rel=0.01)


def test_strip_on_the_screen_has_its_true_size(sheets):
    for strip in true_size_strips(sheets, ROOM, widest_mm=25):
        for px_per_mm in (3.7795, 9.1):  # 96 px an inch, and a dense telephone
            rows, columns, _ = strip.on_screen(px_per_mm).shape
            assert columns / px_per_mm == pytest.approx(strip.width_mm, abs=0.3)
            assert rows / px_per_mm == pytest.approx(strip.height_mm, abs=0.3)


def test_detail_at_the_edge_is_moved_inside(sheets):
    for share in (0.0, 1.0):
        for sheet, strip in zip(
            sheets,
            true_size_strips(sheets, ROOM, across_share=share, down_share=share),
            strict=True,
        ):
            picture = sheet.plan.picture_in_file
            assert picture.common(strip.box) == strip.box


def test_detail_without_pixels_is_refused(sheets):
    with pytest.raises(SpecError, match="larger detail"):
        true_size_strips(sheets, ROOM, widest_mm=1.0)
    with pytest.raises(SpecError, match="one print or more"):
        true_size_strips([], ROOM)


# The panel


def test_panel_shows_table_and_details_and_writes_the_plans(
    studio, photograph, tmp_path, monkeypatch
):
    monkeypatch.setenv("PRINTPLAN_CONFIG", str(tmp_path))
    panel = FamilyPanel(studio.folder)
    panel.chooser.path.value = str(photograph)
    panel.papers.value = (PAPER,)
    panel.sizes.value = "30, 50 mm"
    panel.plan.click()
    assert panel.settle(120)
    assert panel.message.value == ""
    assert "50.0 × 33.3 mm" in panel.table.value
    assert panel.strips.value.count("<figure") == 2
    assert "Not true size yet" in panel.strips.value
    # The detail is as high as the picture: 33.3 mm, of 96 CSS pixels an inch.
    widths = re.findall(r'<img alt="[^"]*" style="width:([\d.]+)px', panel.strips.value)
    assert float(widths[1]) == pytest.approx(100 / 3 / 25.4 * 96, abs=0.6)
    from printplan.workbook.loupe.card_match import (  # noqa: PLC0415
        MatchedScreen,
        remember_match,
    )

    remember_match(MatchedScreen(width_px=2000, height_px=1000, device_px_per_mm=8))
    panel.screen.height_px, panel.screen.ratio = 1000, 2.0
    panel.screen.width_px = 2000
    assert panel.settle(120)
    assert "True size, by the card" in panel.strips.value
    assert "width:80.000px" in panel.strips.value  # the bar: 20 mm · 8 / 2
    monkeypatch.setattr(
        "printplan.workbook.panels.family.jobs_folder", lambda _: tmp_path / "jobs"
    )
    panel.write.click()
    assert len(list((tmp_path / "jobs").glob("waves-*.toml"))) == 2
