"""A panel shows the plan, turns controls into wishes, and says why one is refused."""

import hashlib
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from threading import Event

import colour
import numpy as np
import pytest
from PIL import Image

from printplan.colour.transforms import device_to_lab
from printplan.errors import SpecError
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.spec import (
    BlackPointCompensation,
    Delivery,
    FileFormat,
    Intent,
    NamedSpace,
    Orientation,
    Placement,
    SharpenSpec,
    SizeRule,
)
from printplan.workbook import figures
from printplan.workbook.bench import Bench
from printplan.workbook.panels import proof as proof_module
from printplan.workbook.panels.finish import FinishPanel
from printplan.workbook.panels.lengths import LengthUnit
from printplan.workbook.panels.looks import window_box, window_look
from printplan.workbook.panels.mounting import SURROUND, encoded, mounted
from printplan.workbook.panels.newest import Newest
from printplan.workbook.panels.proof import ProofPanel
from printplan.workbook.panels.sharpen import WINDOW_PX, SharpenPanel
from printplan.workbook.panels.sheet_drawing import draw_sheet
from printplan.workbook.panels.size import SizePanel


@pytest.fixture
def bench(master_of, textured, plan_for, tmp_path):
    """A print larger than the window, on matte cotton."""
    master = master_of(textured)
    sheet = build_sheet(master, plan_for(master, gain=0.5, width_mm=120.0))
    return Bench(sheet, folder=tmp_path, stem="print")


def decoded(jpeg):
    return np.asarray(Image.open(BytesIO(jpeg)).convert("RGB"))


def local_contrast(pixels):
    """Root mean square of differences between neighbours."""
    grey = pixels.astype(np.float64).mean(axis=2)
    return np.sqrt((np.diff(grey, axis=1) ** 2).mean())


def is_dimmed(panel):
    return "printplan-dimmed" in panel.stage._dom_classes


def is_hidden(control):
    return control.layout.display == "none"


# Size and place


def test_moving_the_width_changes_the_plan_and_the_picture(bench):
    panel = SizePanel(bench)
    before = panel.picture.value
    panel.lengths["width_mm"].ui.value = 150.0
    assert panel.settle()
    assert bench.spec.size.width_mm == 150.0
    assert "150.0 ×" in panel.words.value
    assert panel.picture.value != before


def test_a_width_that_does_not_fit_is_refused_in_the_panel(bench):
    panel = SizePanel(bench)
    plan, picture = bench.plan, panel.picture.value
    panel.lengths["width_mm"].ui.value = 420.0
    assert panel.settle()
    assert bench.plan == plan
    assert "The picture is 420.0" in panel.message.value
    assert "Choose a picture of at most" in panel.message.value
    assert is_dimmed(panel)
    assert panel.picture.value == picture
    panel.lengths["width_mm"].ui.value = 140.0
    assert panel.message.value == ""
    assert not is_dimmed(panel)


def test_inches_change_what_is_read_but_not_the_plan(bench):
    panel = SizePanel(bench)
    plan = bench.plan
    panel.unit.value = LengthUnit.INCHES
    assert bench.plan is plan
    assert panel.lengths["width_mm"].ui.description == "width (in)"
    # 120 mm are 4.724 in; the slider stands on the nearest twentieth of an inch.
    assert panel.lengths["width_mm"].ui.value == pytest.approx(4.70)
    panel.border.ui.value = 0.5
    assert bench.spec.size.width_mm == 120.0
    # The international inch is 25.4 mm by definition.
    assert bench.spec.sheet.border_mm == pytest.approx(12.7)


def test_a_slider_that_only_stands_on_its_step_changes_nothing(bench):
    """A browser reports the nearest step; a plan between steps must stay."""
    bench.change(sharpen=SharpenSpec(gain=0.52, radius_mm=0.12734))
    panel = SharpenPanel(bench)
    shown = panel.radius.ui.value
    assert shown == pytest.approx(0.127)
    panel.radius.ui.value = shown + 1e-9
    panel.gain.ui.value = panel.gain.ui.value + 1e-9
    assert bench.spec.sharpen == SharpenSpec(gain=0.52, radius_mm=0.12734)
    panel.gain.ui.value = 0.6
    assert bench.spec.sharpen == SharpenSpec(gain=0.6, radius_mm=0.12734)


def test_a_new_range_reaches_the_browser_together_with_its_number(bench, monkeypatch):
    """Else the browser cuts the old number to the new range and reports that."""
    panel = SizePanel(bench)
    slider = panel.lengths["width_mm"].ui
    sent = []
    monkeypatch.setattr(slider, "send_state", lambda key: sent.append(set(key)))
    panel.unit.value = LengthUnit.INCHES
    assert sent == [{"min", "max", "value", "step", "readout_format", "description"}]


def test_another_rule_starts_from_the_size_that_is_there(bench):
    panel = SizePanel(bench)
    size = bench.plan.picture_size
    panel.rule.value = SizeRule.FILL
    assert bench.plan.picture_size.width_mm == pytest.approx(size.width_mm)
    assert bench.plan.picture_size.height_mm == pytest.approx(size.height_mm)
    assert not is_hidden(panel.crop_across.ui)
    panel.lengths["width_mm"].ui.value = size.height_mm
    panel.crop_across.ui.value = 0.0
    assert bench.plan.picture_size.crop.left_px == 0.0
    panel.rule.value = SizeRule.LONGEST_EDGE
    assert is_hidden(panel.crop_across.ui)
    assert is_hidden(panel.lengths["width_mm"].ui)
    assert not is_hidden(panel.lengths["longest_mm"].ui)


def test_sheet_and_place_follow_their_controls(bench):
    panel = SizePanel(bench)
    panel.media.value = "A4"
    panel.orientation.value = Orientation.PORTRAIT
    panel.placement.value = Placement.OFFSET
    panel.down.ui.value = 10.0
    panel.right.ui.value = 5.0
    layout = bench.plan.layout
    # ISO 216: A4 is 210 × 297 mm.
    assert (layout.width_mm, layout.height_mm) == (210.0, 297.0)
    middle_mm = (layout.picture.top_mm + layout.picture.bottom_mm) / 2
    assert middle_mm == pytest.approx(297.0 / 2 + 10.0)
    panel.placement.value = Placement.CENTRED
    sheet = bench.spec.sheet
    assert (sheet.offset_right_mm, sheet.offset_down_mm) == (0.0, 0.0)
    assert bench.plan.layout.picture.left_mm == pytest.approx((210.0 - 120.0) / 2)
    assert is_hidden(panel.down.ui)


def test_the_printers_own_resolutions_are_offered(bench):
    panel = SizePanel(bench)
    assert tuple(ppi for _, ppi in panel.ppi.options) == bench.printer.input_ppi
    panel.ppi.value = 360.0
    assert bench.plan.ppi == 360.0
    bench.change(size=replace(bench.spec.size, ppi=333.0))
    assert panel.ppi.value == 333.0


def test_a_change_from_elsewhere_moves_the_controls(bench):
    size, sharpen = SizePanel(bench), SharpenPanel(bench)
    size.lengths["width_mm"].ui.value = 420.0
    bench.change(
        size=replace(bench.spec.size, width_mm=90.0), sharpen=SharpenSpec(gain=1.5)
    )
    assert size.lengths["width_mm"].ui.value == 90.0
    assert size.message.value == ""
    assert sharpen.gain.ui.value == pytest.approx(1.5)


def test_a_panel_that_is_opened_again_takes_the_seat(bench):
    first, second = SizePanel(bench), SizePanel(bench)
    picture = first.picture.value
    second.lengths["width_mm"].ui.value = 100.0
    assert second.settle()
    assert "opened again" in first.ui.children[0].value
    assert first.picture.value == picture
    assert second.picture.value != picture


def test_the_drawing_is_to_scale(bench):
    red = np.zeros((90, 140, 3), np.uint8)
    red[..., 0] = 255
    bench.change(sheet=replace(bench.spec.sheet, placement=Placement.OPTICAL_CENTRE))
    layout = bench.plan.layout
    drawing = draw_sheet(bench.plan, red).astype(int)
    is_red = (drawing[..., 0] > 200) & (drawing[..., 1] < 60)
    rows, columns = np.flatnonzero(is_red.any(1)), np.flatnonzero(is_red.any(0))
    row, column = rows[0] - 5, columns[0] - 5
    is_ground = (drawing == SURROUND).all(-1)
    sheet_columns = np.flatnonzero(~is_ground[row, 100:-100])
    sheet_rows = np.flatnonzero(~is_ground[70:-100, column])
    px_per_mm = (sheet_columns[-1] - sheet_columns[0] + 1) / layout.width_mm
    # Edges are rounded to whole pixels, so each length may be a pixel out.
    picture = layout.picture
    assert len(columns) == pytest.approx(
        (picture.right_mm - picture.left_mm) * px_per_mm, abs=1.5
    )
    assert len(rows) == pytest.approx(
        (picture.bottom_mm - picture.top_mm) * px_per_mm, abs=1.5
    )
    above_px = rows[0] - (sheet_rows[0] + 70)
    assert above_px == pytest.approx(picture.top_mm * px_per_mm, abs=1.5)


# Sharpening


def test_more_gain_gives_more_local_contrast_and_leaves_before_alone(bench):
    panel = SharpenPanel(bench)
    contrasts = []
    for gain in (0.0, 1.0, 2.5):
        panel.gain.ui.value = gain
        assert panel.settle()
        assert bench.spec.sharpen.gain == gain
        contrasts.append(local_contrast(decoded(panel.window.value)))
    assert contrasts[0] < contrasts[1] < contrasts[2]
    panel.view.value = "before"
    assert panel.settle()
    assert local_contrast(decoded(panel.window.value)) == contrasts[0]


def test_a_wider_radius_is_told_in_print_pixels(bench):
    panel = SharpenPanel(bench)
    panel.radius.ui.value = 0.254
    # 0.254 mm at 300 ppi is 3 pixels: 0.254 / 25.4 × 300.
    assert bench.spec.sharpen.radius_mm == pytest.approx(0.254)
    assert "3.00 print pixels" in panel.words.value


def test_the_window_shows_print_pixels_at_the_place_that_was_picked(bench):
    panel = SharpenPanel(bench)
    panel.across.ui.value = 1.0
    panel.down.ui.value = 0.0
    assert panel.settle()
    picture = bench.plan.picture_in_file
    box = window_box(bench.plan, WINDOW_PX, 1.0, 0.0)
    assert (box.width, box.height) == WINDOW_PX
    assert (box.right, box.top) == (picture.right, picture.top)
    shown = decoded(panel.window.value).astype(int)
    exact = bench.sheet.proof_window(box, Appearance.PAPER_ALONE).astype(int)
    # What JPEG at quality 90 costs; another place is ten times as far.
    assert np.abs(shown - exact).mean() < 4


def test_both_states_are_shown_at_one_place(bench):
    bench.change(sharpen=SharpenSpec(gain=3.0))
    panel = SharpenPanel(bench)
    panel.view.value = "sides"
    assert panel.settle()
    shown = decoded(panel.window.value)
    assert shown.shape == (600, 900, 3)
    before, after = shown[:, :448], shown[:, 452:]
    assert local_contrast(after) > local_contrast(before)
    box = window_box(bench.plan, (448, 600), 0.5, 0.5)
    plain = varied_look(bench, box, gain=0.0)
    assert np.abs(before.astype(int) - plain).mean() < 4


def varied_look(bench, box, gain):
    other = Bench(bench.sheet, folder=bench.folder, stem="other")
    other.change(sharpen=replace(bench.spec.sharpen, gain=gain))
    return window_look(other.sheet, box).astype(int)


def test_a_picture_smaller_than_the_window_is_shown_whole(bench):
    bench.change(size=replace(bench.spec.size, width_mm=40.0))
    panel = SharpenPanel(bench)
    picture = bench.plan.picture
    shown = decoded(panel.window.value)
    assert shown.shape[:2] == (picture.height, picture.width)


# Soft proof


def test_the_intent_changes_the_proof_and_not_the_master(bench):
    panel = ProofPanel(bench)
    before = decoded(panel.picture.value).astype(int)
    panel.intent.value = Intent.PERCEPTUAL
    assert panel.settle()
    after = decoded(panel.picture.value).astype(int)
    assert bench.spec.colour.intent is Intent.PERCEPTUAL
    half = before.shape[1] // 2
    assert np.abs(after - before)[:, half:].mean() > 1
    assert np.array_equal(after[:, : half - 20], before[:, : half - 20])


def test_the_masters_side_is_computed_once(bench, monkeypatch):
    computed = []
    look = proof_module.master_look
    monkeypatch.setattr(
        proof_module, "master_look", lambda sheet: computed.append(sheet) or look(sheet)
    )
    panel = ProofPanel(bench)
    for intent in (Intent.PERCEPTUAL, Intent.SATURATION):
        panel.intent.value = intent
        assert panel.settle()
    assert len(computed) == 1
    bench.change(size=replace(bench.spec.size, width_mm=100.0))
    assert panel.settle()
    assert len(computed) == 2


def test_compensation_off_closes_the_shadows_of_matte_paper(bench):
    """Media-relative without compensation makes one black of all deeper tones."""
    panel = ProofPanel(bench)
    panel.appearance.value = Appearance.PAPER_IN_THE_ROOM
    assert panel.settle()
    on = decoded(panel.picture.value)
    panel.compensation.value = BlackPointCompensation.OFF
    assert panel.settle()
    off = decoded(panel.picture.value)
    assert bench.spec.colour.black_point_compensation is BlackPointCompensation.OFF
    half = on.shape[1] // 2
    assert off[:, half:].mean() < on[:, half:].mean()


def test_absolute_has_no_compensation_to_set(bench):
    panel = ProofPanel(bench)
    panel.intent.value = Intent.ICC_ABSOLUTE
    assert panel.compensation.disabled
    panel.intent.value = Intent.MEDIA_RELATIVE
    assert not panel.compensation.disabled


def test_paper_in_the_room_shows_the_papers_own_white(bench):
    panel = ProofPanel(bench)
    plan = bench.plan
    alone = decoded(panel.picture.value)
    panel.appearance.value = Appearance.PAPER_IN_THE_ROOM
    assert panel.settle()
    room = decoded(panel.picture.value)
    assert bench.plan is plan
    # A spot of paper in the proof's upper right corner.
    spot = (slice(23, 29), slice(-43, -33))
    assert (alone[spot] >= 254).all()
    white = np.full((1, 1, 3), 65535, np.uint16)
    lab = device_to_lab(white, bench.sheet.output, intent=Intent.ICC_ABSOLUTE)[0, 0]
    # By another implementation: CIELAB under D50 to sRGB, Bradford adaptation.
    d50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    expected = colour.XYZ_to_sRGB(colour.Lab_to_XYZ(lab, d50), d50) * 255
    # 1 for rounding to 8 bits, 1 for JPEG, 1 for the profile's own rounding.
    assert room[spot].reshape(-1, 3).mean(0) == pytest.approx(expected, abs=3)


# Finishing


def test_making_the_file_writes_what_the_panel_tells(bench, tmp_path):
    panel = FinishPanel(bench)
    panel.make.click()
    assert panel.settle()
    made = tmp_path / "print.tif"
    digest = hashlib.sha256(made.read_bytes()).hexdigest()
    assert digest in panel.result.value
    assert str(made) in panel.result.value
    assert panel.name.value == "print-2.tif"
    panel.make.click()
    assert panel.settle()
    assert (tmp_path / "print-2.tif").exists()
    assert panel.name.value == "print-3.tif"
    assert hashlib.sha256(made.read_bytes()).hexdigest() == digest


def test_stopping_leaves_no_file(bench, tmp_path):
    panel = FinishPanel(bench)
    folder_before = set(tmp_path.iterdir())
    panel.make.click()
    panel.stop.click()
    assert panel.settle()
    assert "Stopped" in panel.result.value
    assert set(tmp_path.iterdir()) == folder_before
    assert not panel.make.disabled
    panel.make.click()
    assert panel.settle()
    assert (tmp_path / "print.tif").exists()


def test_a_name_that_is_taken_is_refused_and_kept(bench, tmp_path):
    taken = tmp_path / "taken.tif"
    taken.write_bytes(b"mine")
    panel = FinishPanel(bench)
    panel.name.value = "taken.tif"
    panel.make.click()
    assert panel.settle()
    assert "exists already" in panel.message.value
    assert "Choose another name" in panel.message.value
    assert taken.read_bytes() == b"mine"


def test_the_ending_follows_the_format(bench):
    panel = FinishPanel(bench)
    panel.file_format.value = FileFormat.PDF
    assert bench.spec.delivery.file_format is FileFormat.PDF
    assert panel.name.value == "print.pdf"


def test_jpeg_wants_a_named_space(bench):
    panel = FinishPanel(bench)
    panel.file_format.value = FileFormat.JPEG
    assert "A JPEG file cannot hold" in panel.message.value
    assert panel.make.disabled
    panel.delivery.value = Delivery.NAMED_SPACE
    assert panel.message.value == ""
    assert not panel.make.disabled
    assert bench.spec.delivery.named_space is NamedSpace.SRGB
    assert panel.name.value == "print.jpg"
    assert not is_hidden(panel.named_space)


def test_no_file_is_made_while_a_wish_is_refused(bench):
    finish, size = FinishPanel(bench), SizePanel(bench)
    size.lengths["width_mm"].ui.value = 420.0
    assert finish.make.disabled
    assert "The picture is 420.0" in finish.message.value
    size.lengths["width_mm"].ui.value = 100.0
    assert not finish.make.disabled
    assert "The picture is" not in finish.message.value


def test_a_stop_has_to_be_set_aside_by_hand(bench):
    """The sheet feeder of the demo does not take the thick cotton."""
    panel = FinishPanel(bench)
    assert is_hidden(panel.all_the_same)
    bench.change(sheet=replace(bench.spec.sheet, feed="sheet feeder"))
    assert "<b>stop</b>" in panel.findings.value
    assert panel.make.disabled
    panel.all_the_same.value = True
    assert not panel.make.disabled


def test_making_the_file_leaves_the_master_alone(bench):
    master = Path(bench.master.facts.path)
    before = master.read_bytes()
    panel = FinishPanel(bench)
    panel.make.click()
    assert panel.settle()
    assert master.read_bytes() == before


def test_what_a_file_is_called_cannot_become_part_of_the_page(bench, tmp_path):
    panel = FinishPanel(bench)
    panel.name.value = "<i>a&b<i>.tif"
    panel.make.click()
    assert panel.settle()
    assert (tmp_path / "<i>a&b<i>.tif").exists()
    assert "&lt;i&gt;a&amp;b&lt;i&gt;.tif" in panel.result.value
    assert "<i>a" not in panel.result.value


# What panels are made of


def test_only_the_newest_of_many_jobs_is_shown():
    shown, gate, started = [], Event(), Event()
    newest = Newest(shown.append, shown.append)

    def first():
        started.set()
        gate.wait(10)
        return "first"

    newest.do(first)
    assert started.wait(10)
    newest.do(lambda: "second")
    newest.do(lambda: "third")
    gate.set()
    assert newest.settle()
    assert shown == ["third"]


def test_a_job_that_fails_is_told_and_the_next_one_runs():
    shown, failed = [], []
    newest = Newest(shown.append, failed.append)
    error = SpecError("No.", remedy="Yes.")

    def fail():
        raise error

    newest.do(fail)
    assert newest.settle()
    newest.do(lambda: "next")
    assert newest.settle()
    assert failed == [error]
    assert shown == ["next"]


def test_a_picture_that_cannot_be_computed_says_why(bench):
    panel = SharpenPanel(bench)
    bench.close()
    bench.change(size=replace(bench.spec.size, width_mm=100.0))
    assert panel.settle()
    assert "was closed" in panel.message.value
    assert is_dimmed(panel)


def test_pictures_for_the_page_keep_their_colour_resolution_and_carry_no_profile():
    image = Image.open(BytesIO(encoded(np.zeros((20, 20, 3), np.uint8))))
    assert "icc_profile" not in image.info
    # Sampling factors of the frame header (ITU-T T.81, B.2.2): all components alike.
    assert {layer[1:3] for layer in image.layer} == {(1, 1)}


def test_mounting_does_not_touch_a_pixel():
    rng = np.random.default_rng(1)
    first, second = (
        rng.integers(0, 256, shape, np.uint8) for shape in ((40, 60, 3), (30, 50, 3))
    )
    ground = mounted([(first, "one"), (second, "two")])
    assert np.array_equal(ground[20:60, 20:80], first)
    assert np.array_equal(ground[20:50, 100:150], second)
    assert tuple(ground[0, 0]) == SURROUND


def test_every_step_leaves_a_picture_that_says_what_it_is(bench):
    pictures = [
        figures.master_picture(bench.master),
        figures.sheet_picture(bench.sheet),
        figures.sharpening_picture(bench.sheet),
        figures.proof_picture(bench.sheet),
    ]
    for picture in pictures:
        jpeg, _ = picture._repr_jpeg_()
        assert local_contrast(decoded(jpeg)) > 1
        assert repr(picture) == picture.description
    _, how = figures.sharpening_picture(bench.sheet)._repr_jpeg_()
    assert how == {"unconfined": True}
