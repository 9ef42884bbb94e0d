"""A panel shows the plan, turns controls into wishes, and says why one is refused."""

import hashlib
import re
from base64 import b64decode
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from threading import Event, current_thread

import colour
import html5lib
import numpy as np
import pytest
import tifffile
from PIL import Image

from printplan.colour.transforms import device_to_lab
from printplan.errors import MasterError, SpecError
from printplan.pixels.picture_content import (
    estimated_content,
    known_content,
    picture_content,
)
from printplan.pixels.sheet import Appearance, build_sheet, varied
from printplan.record.decision_sheet.sheet_drawing import draw_sheet
from printplan.record.plan_file import (
    parse_plan_text,
    plan_file_text,
    read_plan_file,
)
from printplan.sharpening.limits import SharpenLimits
from printplan.sizing.boxes import Box
from printplan.spec import (
    BlackPointCompensation,
    Delivery,
    FileFormat,
    Intent,
    MatMargins,
    MountSpec,
    NamedSpace,
    Orientation,
    Placement,
    SharpenSpec,
    SizeRule,
)
from printplan.units import LengthUnit
from printplan.workbook import figures
from printplan.workbook import latest_only as latest_only_module
from printplan.workbook.bench import Bench
from printplan.workbook.latest_only import LatestOnly
from printplan.workbook.panels import finish as finish_module
from printplan.workbook.panels import proof as proof_module
from printplan.workbook.panels import sharpen as sharpen_module
from printplan.workbook.panels.finish import FinishPanel
from printplan.workbook.panels.making import Making
from printplan.workbook.panels.mount import MountPanel
from printplan.workbook.panels.proof import ProofPanel
from printplan.workbook.panels.sharpen import WINDOW_PX, Mode, SharpenPanel
from printplan.workbook.panels.size import SizePanel
from printplan.workbook.pictures import SURROUND, encoded, mounted
from printplan.workbook.previews import window_box, window_preview


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
    panel.lengths["width_mm"].ui.value = 150.0
    assert bench.spec.size.width_mm == 150.0
    assert "150.0 ×" in panel.words.value
    left, _, right, _ = panel.view.geometry["picture"]
    assert right - left == pytest.approx(150.0)


def test_a_width_that_does_not_fit_is_refused_in_the_panel(bench):
    panel = SizePanel(bench)
    plan, drawn = bench.plan, panel.view.geometry
    panel.lengths["width_mm"].ui.value = 420.0
    assert bench.plan == plan
    assert "The picture is 420.0" in panel.message.value
    assert "Choose a picture of at most" in panel.message.value
    assert is_dimmed(panel)
    assert panel.view.geometry == drawn
    panel.lengths["width_mm"].ui.value = 140.0
    assert panel.message.value == ""
    assert not is_dimmed(panel)


def test_inches_change_what_is_read_but_not_the_plan(bench):
    panel = SizePanel(bench)
    plan = bench.plan
    panel.unit.value = LengthUnit.INCHES
    in_inches = replace(plan.spec, lengths_in=LengthUnit.INCHES)
    assert bench.plan == replace(plan, spec=in_inches)
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
    slider = panel.lengths["width_mm"]._sliders[LengthUnit.INCHES].ui
    sent = []
    monkeypatch.setattr(slider, "send_state", lambda key: sent.append(set(key)))
    panel.unit.value = LengthUnit.INCHES
    assert sent == [{"max", "value"}]


@pytest.mark.parametrize("names", [None, ["value", "max"], ["value", "min", "max"]])
def test_a_range_is_told_before_its_number(bench, names):
    """The browser takes them one by one; 240 mm were cut to the first range, 40."""
    slider = SizePanel(bench).lengths["width_mm"].ui
    told = slider.get_state(names)
    assert list(told)[-1] == "value"
    assert set(told) == set(names or slider.keys)
    assert told["value"] == slider.value


def test_a_move_that_comes_late_is_read_in_the_unit_it_was_made_in(bench):
    """A4 is 297 mm long: as inches, 205 mm were cut to its end, 11.69 in."""
    panel = SizePanel(bench)
    in_mm = panel.lengths["width_mm"].ui
    panel.unit.value = LengthUnit.INCHES
    in_mm.value = 105.0  # on its way while the unit was changed
    assert bench.spec.size.width_mm == 105.0
    assert bench.spec.lengths_in is LengthUnit.INCHES
    assert panel.lengths["width_mm"].ui.value == pytest.approx(105 / 25.4, abs=0.026)


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
    assert is_hidden(panel.lengths["width_mm"].box)
    assert not is_hidden(panel.lengths["longest_mm"].box)


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
    assert panel.down.ui.value == 0.0


def test_an_offset_that_is_moved_starts_from_the_place_that_is_there(bench):
    bench.change(sheet=replace(bench.spec.sheet, placement=Placement.OPTICAL_CENTRE))
    panel = SizePanel(bench)
    above_mm = panel.down.ui.value
    assert above_mm < 0
    panel.right.ui.value = 10.0
    sheet = bench.spec.sheet
    assert sheet.placement is Placement.OFFSET
    assert sheet.offset_right_mm == 10.0
    # The slider stands on half millimetres; the place is kept as it was.
    assert sheet.offset_down_mm == pytest.approx(above_mm, abs=0.25)
    assert sheet.offset_down_mm != above_mm


def test_a_mount_asks_only_for_what_it_needs(bench):
    panel = MountPanel(bench)
    mat, stretcher = panel.mat, panel.stretcher
    assert is_hidden(mat.opening_width.box)
    assert is_hidden(stretcher.wrap.box)
    panel.mounting.value = "mat"
    # Common practice, no source: a mat covers each edge by 3 mm. 120 - 6 is 114.
    assert bench.spec.mount.mat_opening_width_mm == pytest.approx(114.0)
    assert bench.spec.mount.wrap_mm == 0.0
    assert not is_hidden(mat.opening_width.box)
    mat.opening_width.ui.value = 150.0
    assert bench.spec.mount.mat_opening_width_mm == 150.0
    panel.mounting.value = "stretcher"
    stretcher.wrap.ui.value = 30.0
    assert bench.spec.mount.wrap_mm == 30.0
    assert bench.spec.mount.mat_opening_width_mm is None
    assert is_hidden(mat.opening_width.box)
    panel.mounting.value = "nothing"
    assert bench.spec.mount == MountSpec()


MOUNTS = {
    "none": MountSpec(),
    "size": MountSpec(mat_opening_width_mm=101.3, mat_opening_height_mm=61.7),
    "in its frame": MountSpec(
        mat_overlap_mm=2.7,
        frame_width_mm=301,
        frame_height_mm=201.5,
        frame_rebate_mm=7.3,
    ),
    "white": MountSpec(
        reveal_mm=11.1,
        reveal_below_mm=22.2,
        mat_margin_mm=41.9,
        mat_margins=MatMargins.BOTTOM_WEIGHTED,
        mat_foot_mm=9.1,
        wrap_mm=3.3,
        stretcher_depth_mm=1.2,
    ),
    "size and frame": MountSpec(
        mat_overlap_mm=3,
        mat_outer_width_mm=299.9,
        mat_outer_height_mm=209.9,
        mat_margins=MatMargins.OPTICAL_CENTRE,
        frame_width_mm=300,
        frame_height_mm=210,
    ),
}


@pytest.mark.parametrize("unit", LengthUnit)
def test_mount_panel_asks_for_what_it_shows(unit, bench):
    """Whatever a plan file says of mat and frame is still there after another move."""
    panel = MountPanel(bench)
    bench.ask(replace(bench.spec, lengths_in=unit))
    for mount in MOUNTS.values():
        bench.change(mount=mount)
        assert panel._spec().mount == mount


def test_mount_panel_tells_the_cutters_list_of_its_plan(bench):
    panel = MountPanel(bench)
    assert panel.settle()
    assert "Borders" not in panel.words.value
    panel.mounting.value = "mat"
    panel.mat.opening_by.value = "overlap"
    panel.mat.frame.value = "size"
    panel.mat.frame_width.ui.value = 300.0
    panel.mat.frame_height.ui.value = 200.0
    # The picture is 120 mm wide and 3 mm are covered: (300 - 114) / 2 is 93.
    assert "left 93, " in panel.words.value
    assert "Blades: cut along a steel rule with a guard" in panel.words.value
    panel.mat.mat_by.value = "margin"
    panel.mat.margin.ui.value = 40.0
    assert bench.spec.mount.mat_margin_mm == 40.0
    assert "left 40, top 40, right 40, foot 40 mm" in panel.words.value
    assert panel.settle()
    assert b'class="shaded"' in bytes(panel.drawing.value)


def test_the_printers_own_resolutions_are_offered(bench):
    panel = SizePanel(bench)
    assert tuple(ppi for _, ppi in panel.ppi.options) == bench.printer.input_ppi
    panel.ppi.value = 360.0
    assert bench.plan.ppi == 360.0
    bench.change(size=replace(bench.spec.size, ppi=333.0))
    assert panel.ppi.value == 333.0


@pytest.mark.slow
def test_a_change_from_elsewhere_moves_the_controls(bench):
    size, sharpen = SizePanel(bench), SharpenPanel(bench)
    size.lengths["width_mm"].ui.value = 420.0
    bench.change(
        size=replace(bench.spec.size, width_mm=90.0), sharpen=SharpenSpec(gain=1.5)
    )
    assert size.lengths["width_mm"].ui.value == 90.0
    assert size.message.value == ""
    assert sharpen.gain.ui.value == pytest.approx(1.5)


def test_a_panel_that_is_opened_again_takes_the_slot(bench):
    first, second = SizePanel(bench), SizePanel(bench)
    drawn = first.view.geometry
    second.lengths["width_mm"].ui.value = 100.0
    assert "opened again" in first.ui.children[0].value
    assert first.view.geometry == drawn
    assert second.view.geometry != drawn


def test_the_drawing_is_to_scale(bench):
    bench.change(sheet=replace(bench.spec.sheet, placement=Placement.OPTICAL_CENTRE))
    layout = bench.plan.layout
    svg = html5lib.parse(
        draw_sheet(bench.plan, b"", width_mm=100.0, height_mm=80.0).svg
    )
    paper, picture = (
        [float(it.get(name)) for name in ("x", "y", "width", "height")]
        for kind in ("paper", "picture")
        for it in svg.iter()
        if it.get("class") == kind
    )
    scale = paper[2] / layout.width_mm
    edges = layout.picture
    # Places are written to a hundredth of a millimetre.
    assert paper[3] == pytest.approx(layout.height_mm * scale, abs=0.02)
    assert picture[2] == pytest.approx(
        (edges.right_mm - edges.left_mm) * scale, abs=0.02
    )
    assert picture[3] == pytest.approx(
        (edges.bottom_mm - edges.top_mm) * scale, abs=0.02
    )
    assert picture[0] - paper[0] == pytest.approx(edges.left_mm * scale, abs=0.02)
    assert picture[1] - paper[1] == pytest.approx(edges.top_mm * scale, abs=0.02)


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
    assert panel.settle()
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
    panel.accessibility.stage_px = 900  # as the browser tells it
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
    return window_preview(other.sheet, box).astype(int)


def test_a_picture_smaller_than_the_window_is_shown_whole(bench):
    bench.change(size=replace(bench.spec.size, width_mm=40.0))
    panel = SharpenPanel(bench)
    picture = bench.plan.picture
    shown = decoded(panel.window.value)
    assert shown.shape[:2] == (picture.height, picture.width)


@pytest.fixture
def detailed_bench(master_of, plan_for, tmp_path):
    """Slanted stripes with sharp edges, in a print larger than the window."""
    rows, columns = np.indices((700, 1000))
    stripes = ((columns + 0.2 * rows) // 60) % 2
    rng = np.random.default_rng(4)
    light = 0.35 + 0.15 * stripes + rng.normal(0, 0.002, stripes.shape)
    codes = np.rint(np.clip(light, 0, 1) * 65535).astype(np.uint16)
    master = master_of(np.repeat(codes[..., None], 3, axis=2))
    sheet = build_sheet(master, plan_for(master, width_mm=1000 / 300 * 25.4))
    return Bench(sheet, folder=tmp_path, stem="print")


def choose_auto(panel):
    panel.mode.value = Mode.AUTO
    assert panel.settle()


@pytest.mark.slow
def test_auto_sharpening_is_chosen_and_says_why(detailed_bench):
    panel = SharpenPanel(detailed_bench)
    assert detailed_bench.spec.sharpen.gain == 0.0
    choose_auto(panel)
    sharpen = detailed_bench.spec.sharpen
    assert sharpen.gain > 0.2
    assert sharpen.restore == 1.0
    assert sharpen.distance_mm == panel.distance.value_mm
    assert sharpen.print_halo_limit_share == SharpenLimits().halo_limit
    for said in ("decided", "print pixels soft", "estimate, not measured", "acutance"):
        assert said in panel.words.value
    assert is_hidden(panel.gain.ui)
    assert not is_hidden(panel.restore.ui)


def test_a_nearer_viewer_and_more_restore_move_the_gain(detailed_bench):
    panel = SharpenPanel(detailed_bench)
    choose_auto(panel)
    gains = []
    for distance, restore in ((2500.0, 1.0), (400.0, 1.0), (400.0, 0.5), (400.0, 0.0)):
        panel.distance.ui.value = distance
        panel.restore.ui.value = restore
        gains.append(detailed_bench.spec.sharpen.gain)
    far, near, half, none = gains
    assert near > far
    assert half == pytest.approx(near / 2)
    assert none == 0.0


def test_a_panel_opens_without_waiting_for_the_content(
    detailed_bench, monkeypatch, gate_of, nothing_kept
):
    """What is asked for meanwhile is done when the content is known."""
    go_on = gate_of()
    measure = sharpen_module.picture_content
    nothing_kept()

    def slowly(sheet):
        assert go_on.wait(60)
        return measure(sheet)

    monkeypatch.setattr(sharpen_module, "picture_content", slowly)
    panel = SharpenPanel(detailed_bench)
    assert panel.window.value
    assert "Measuring" in panel.words.value
    panel.mode.value = Mode.AUTO
    panel.restore.ui.value = 0.75
    assert detailed_bench.spec.sharpen.gain == 0.0
    go_on.set()
    assert panel.settle()
    assert detailed_bench.spec.sharpen.restore == 0.75
    assert detailed_bench.spec.sharpen.gain > 0
    assert "Measuring" not in panel.words.value


@pytest.fixture
def held_measuring(monkeypatch, gate_of):
    """Measuring the picture waits for a sign; the sizes that it was begun at."""
    go_on, begun, measure = gate_of(), [], sharpen_module.picture_content

    def slowly(sheet):
        begun.append(sheet.plan.picture.width)
        assert go_on.wait(60)
        return measure(sheet)

    monkeypatch.setattr(sharpen_module, "picture_content", slowly)
    return go_on, begun


@pytest.mark.slow
def test_another_size_is_sharpened_at_once_and_refined_when_it_is_measured(
    detailed_bench, held_measuring
):
    go_on, begun = held_measuring
    go_on.set()
    panel = SharpenPanel(detailed_bench)
    choose_auto(panel)
    first, size = detailed_bench.spec.sharpen, detailed_bench.spec.size
    go_on.clear()
    begun.clear()
    # Measuring is held: had the change waited for it, it would not come back.
    detailed_bench.change(size=replace(size, width_mm=1.5 * size.width_mm))
    estimated = detailed_bench.spec.sharpen
    assert (estimated.gain, estimated.radius_mm) != (first.gain, first.radius_mm)
    assert known_content(detailed_bench.plan) is None
    go_on.set()
    assert panel.settle()
    measured = detailed_bench.spec.sharpen
    content = known_content(detailed_bench.plan)
    assert len(begun) == 1
    assert measured == panel._advice(content).spec
    assert estimated.gain == pytest.approx(measured.gain, rel=0.25)
    assert "estimated" not in panel.words.value


@pytest.mark.slow
def test_a_move_of_place_measures_nothing_again(detailed_bench, held_measuring):
    go_on, begun = held_measuring
    go_on.set()
    size = detailed_bench.spec.size
    detailed_bench.change(size=replace(size, width_mm=size.width_mm + 0.04))
    panel = SharpenPanel(detailed_bench)
    choose_auto(panel)
    begun.clear()
    sheet, sharpen = detailed_bench.spec.sheet, detailed_bench.spec.sharpen
    sizes = set()
    for step in range(8):
        moved = replace(
            sheet,
            placement="offset",
            offset_right_mm=0.03 * step,
            offset_down_mm=-0.05 * step,
        )
        detailed_bench.change(sheet=moved)
        assert panel.settle()
        sizes.add(
            (detailed_bench.plan.picture.width, detailed_bench.plan.picture.height)
        )
    assert begun == []
    assert len(sizes) > 1  # its edges are rounded on the sheet
    assert detailed_bench.spec.sharpen == sharpen


@pytest.mark.slow
def test_estimate_of_another_size_is_near_what_is_measured(detailed_bench):
    sheet, size = detailed_bench.sheet, detailed_bench.spec.size
    picture_content(sheet)
    for times in (0.8, 1.25, 1.6):
        wider = replace(
            detailed_bench.spec, size=replace(size, width_mm=times * size.width_mm)
        )
        other = varied(sheet, wider)
        estimate = estimated_content(other.plan)
        measured = picture_content(other)
        # Edges are measured to some 10 %, noise to less; see FEWEST_EDGES.
        assert estimate.master_edge_sigma_px == pytest.approx(
            measured.master_edge_sigma_px, rel=0.15
        )
        assert estimate.noise_l == pytest.approx(measured.noise_l, rel=0.15)
        assert "estimated" in estimate.words


def test_nothing_is_estimated_of_a_picture_that_was_never_measured(
    detailed_bench, nothing_kept
):
    nothing_kept()
    assert estimated_content(detailed_bench.plan) is None


@pytest.mark.slow
def test_a_plan_of_auto_sharpening_shows_its_sliders_again(detailed_bench, studio):
    panel = SharpenPanel(detailed_bench)
    choose_auto(panel)
    panel.restore.ui.value = 0.8
    panel.halo_limit.ui.value = 0.08
    panel.grain_floor.ui.value = 0.5
    panel.distance.ui.value = 620.0
    kept = read_plan_file(studio.plan_path)
    text = plan_file_text(replace(kept, spec=detailed_bench.spec))
    read = parse_plan_text(text, where="plan.toml").spec
    sheet = varied(detailed_bench.sheet, read)
    again = SharpenPanel(Bench(sheet, folder=detailed_bench.folder, stem="again"))
    assert again.is_auto
    assert again.restore.value == pytest.approx(0.8)
    assert again.halo_limit.value == pytest.approx(0.08)
    assert again.grain_floor.value == pytest.approx(0.5)
    assert again.distance.value_mm == pytest.approx(620.0)
    assert again.settle()
    # Opening decides nothing anew.
    assert again.bench.spec == read
    assert "would ask for" not in again.words.value


@pytest.mark.slow
def test_auto_sharpening_follows_the_size_and_manual_stays(detailed_bench):
    panel = SharpenPanel(detailed_bench)
    choose_auto(panel)
    first = detailed_bench.spec.sharpen
    size = detailed_bench.spec.size
    detailed_bench.change(size=replace(size, width_mm=1.8 * size.width_mm))
    assert panel.settle()
    second = detailed_bench.spec.sharpen
    assert (second.gain, second.radius_mm) != (first.gain, first.radius_mm)
    assert second.restore == first.restore
    panel.mode.value = Mode.MANUAL
    by_hand = detailed_bench.spec.sharpen
    assert by_hand == SharpenSpec(gain=second.gain, radius_mm=second.radius_mm)
    detailed_bench.change(size=size)
    assert panel.settle()
    assert detailed_bench.spec.sharpen == by_hand
    assert "would ask for" in panel.words.value


def test_a_picture_that_cannot_be_measured_leaves_manual(bench):
    bench.change(size=replace(bench.spec.size, width_mm=10.0))
    panel = SharpenPanel(bench)
    assert panel.settle()
    assert "128 px or more" in panel.words.value
    panel.gain.ui.value = 1.0
    assert bench.spec.sharpen.gain == 1.0
    panel.mode.value = Mode.AUTO
    assert "128 px or more" in panel.message.value
    assert bench.spec.sharpen.gain == 1.0


def test_what_is_seen_has_lost_detail_and_sharpening_gives_some_back(detailed_bench):
    panel = SharpenPanel(detailed_bench)
    panel.accessibility.stage_px = 900  # as the browser tells it
    choose_auto(panel)
    panel.view.value = "sides"
    assert panel.settle()
    in_file = decoded(panel.window.value)
    panel.view.value = "as-seen"
    assert panel.settle()
    seen = decoded(panel.window.value)
    assert seen.shape == in_file.shape == (600, 900, 3)
    assert local_contrast(seen[:, :448]) < local_contrast(in_file[:, :448])
    assert local_contrast(seen[:, 452:]) > local_contrast(seen[:, :448])


@pytest.mark.slow
def test_edge_and_responses_are_drawn_at_a_press_and_not_before(detailed_bench):
    panel = SharpenPanel(detailed_bench)
    choose_auto(panel)
    assert is_hidden(panel.edge)
    assert panel.responses.value == b""
    panel.draw.click()
    assert panel.settle()
    for place in (panel.edge, panel.responses):
        assert not is_hidden(place)
        assert min(Image.open(BytesIO(place.value)).size) > 400
    assert panel.note.value == ""
    panel.restore.ui.value = 0.5
    assert "draw again" in panel.note.value


@pytest.mark.slow
def test_a_window_without_an_edge_says_so_and_shows_the_responses(
    master_of, plan_for, tmp_path
):
    grain = np.random.default_rng(6).normal(0.4, 0.01, (300, 400))
    codes = np.rint(grain * 65535).astype(np.uint16)
    master = master_of(np.repeat(codes[..., None], 3, axis=2))
    sheet = build_sheet(master, plan_for(master, width_mm=400 / 300 * 25.4))
    panel = SharpenPanel(Bench(sheet, folder=tmp_path, stem="print"))
    assert panel.settle()
    panel.draw.click()
    assert panel.settle()
    assert "edge" in panel.note.value
    assert is_hidden(panel.edge)
    assert not is_hidden(panel.responses)


@pytest.mark.slow
def test_the_sharpening_leaves_pictures_that_stay(detailed_bench):
    choice = figures.choice_picture(detailed_bench.sheet, distance_mm=400)
    assert "Gain" in choice.description
    assert "decided" in choice.description
    assert local_contrast(decoded(choice.jpeg)) > 1
    for drawing in (
        figures.edge_picture(detailed_bench.sheet),
        figures.responses_picture(detailed_bench.sheet),
    ):
        assert drawing.png.startswith(b"\x89PNG")
        assert drawing.description


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
    look = proof_module.master_preview
    monkeypatch.setattr(
        proof_module,
        "master_preview",
        lambda sheet: computed.append(sheet) or look(sheet),
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


@pytest.mark.slow
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


@pytest.mark.slow
def test_cancelling_leaves_no_file(bench, tmp_path):
    panel = FinishPanel(bench)
    folder_before = set(tmp_path.iterdir())
    panel.make.click()
    panel.cancel.click()
    assert panel.settle()
    assert "Cancelled" in panel.result.value
    assert set(tmp_path.iterdir()) == folder_before
    assert not panel.make.disabled
    panel.make.click()
    assert panel.settle()
    assert (tmp_path / "print.tif").exists()


@pytest.mark.slow
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
    assert panel.settle()
    assert not panel.make.disabled
    assert bench.spec.delivery.named_space is NamedSpace.SRGB
    assert panel.name.value == "print.jpg"
    assert not is_hidden(panel.named_space)


@pytest.mark.slow
def test_no_file_is_made_while_a_wish_is_refused(bench):
    finish, size = FinishPanel(bench), SizePanel(bench)
    size.lengths["width_mm"].ui.value = 420.0
    assert finish.make.disabled
    assert "The picture is 420.0" in finish.message.value
    size.lengths["width_mm"].ui.value = 100.0
    assert finish.settle()
    assert not finish.make.disabled
    assert "The picture is" not in finish.message.value


@pytest.mark.slow
def test_a_stop_has_to_be_set_aside_by_hand(bench):
    """The sheet feeder of the demo does not take the thick cotton."""
    panel = FinishPanel(bench)
    assert panel.settle()
    assert is_hidden(panel.despite)
    bench.change(sheet=replace(bench.spec.sheet, feed="sheet feeder"))
    assert panel.make.disabled
    assert panel.settle()
    assert "<b>stop</b>" in panel.findings.value
    assert panel.make.disabled
    panel.despite.value = True
    assert not panel.make.disabled


@pytest.mark.slow
def test_making_the_file_leaves_the_master_alone(bench):
    master = Path(bench.master.facts.path)
    before = master.read_bytes()
    panel = FinishPanel(bench)
    panel.make.click()
    assert panel.settle()
    assert master.read_bytes() == before


@pytest.mark.slow
def test_what_a_file_is_called_cannot_become_part_of_the_page(bench, tmp_path):
    panel = FinishPanel(bench)
    panel.name.value = "<i>a&b<i>.tif"
    panel.make.click()
    assert panel.settle()
    assert (tmp_path / "<i>a&b<i>.tif").exists()
    assert "&lt;i&gt;a&amp;b&lt;i&gt;.tif" in panel.result.value
    assert "<i>a" not in panel.result.value


@pytest.mark.slow
def test_a_fault_of_our_own_is_shown_and_leaves_no_file(bench, tmp_path, monkeypatch):
    """Errors of a worker or a callback would vanish otherwise."""

    def broken(*_args, **_more):
        raise ZeroDivisionError("by zero")

    seen = []
    monkeypatch.setattr("threading.excepthook", lambda it: seen.append(it.exc_type))
    monkeypatch.setattr(finish_module, "render", broken)
    panel = FinishPanel(bench)
    panel.make.click()
    assert panel.settle()
    assert "a fault in printplan (ZeroDivisionError: by zero)" in panel.message.value
    assert seen == [ZeroDivisionError]
    assert not panel.make.disabled
    assert not (tmp_path / "print.tif").exists()


@pytest.mark.slow
def test_a_file_being_made_outlives_its_master_on_the_bench(
    bench, master_of, textured, tmp_path, monkeypatch, gate_of
):
    """Another photograph may be laid out meanwhile; the one being made stays open."""
    gate = gate_of()
    told = Making.show_progress

    def slow(self, done_rows, all_rows):
        gate.wait(30)
        told(self, done_rows, all_rows)

    monkeypatch.setattr(Making, "show_progress", slow)
    other = master_of(255 - textured).facts.path
    expected = bench.sheet.window(Box(0, 0, *bench.sheet.size_px))
    panel = FinishPanel(bench)
    panel.make.click()
    before = bench.master
    bench.change_master(other)
    gate.set()
    assert panel.settle()
    assert "SHA-256" in panel.result.value
    made = tifffile.imread(tmp_path / "print.tif")
    assert np.array_equal(made, expected)
    with pytest.raises(MasterError, match="was closed"):
        before.linear(Box(0, 0, 1, 1))


# What panels are made of


def test_only_the_latest_of_many_jobs_is_shown(gate_of):
    shown, gate, started = [], gate_of(), Event()
    worker = LatestOnly(shown.append, shown.append)

    def first():
        started.set()
        gate.wait(10)
        return "first"

    worker.do(first)
    assert started.wait(10)
    worker.do(lambda: "second")
    worker.do(lambda: "third")
    gate.set()
    assert worker.settle()
    assert shown == ["third"]


def test_a_job_that_fails_is_told_and_the_next_one_runs():
    shown, failed = [], []
    worker = LatestOnly(shown.append, failed.append)
    error = SpecError("No.", remedy="Yes.")

    def fail():
        raise error

    worker.do(fail)
    assert worker.settle()
    worker.do(lambda: "next")
    assert worker.settle()
    assert failed == [error]
    assert shown == ["next"]


def test_a_worker_waits_for_the_next_job_and_ends_without_one(monkeypatch):
    monkeypatch.setattr(latest_only_module, "_LINGER_S", 0.3)
    workers = []
    worker = LatestOnly(workers.append, workers.append)
    for _ in range(2):
        worker.do(current_thread)
        assert worker.settle()
    first, second = workers
    assert first is second
    first.join(10)
    assert not first.is_alive()
    worker.do(current_thread)
    assert worker.settle()
    assert workers[2] is not first


def test_a_picture_that_cannot_be_computed_says_why(bench):
    panel = SharpenPanel(bench)
    assert panel.settle()  # nothing holds the master open any more
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


@pytest.mark.parametrize("is_column", [False, True])
def test_captions_can_be_read_at_the_width_that_the_page_has(is_column):
    """Small letters are about half of a font's size: 11 px of it have 5 or more."""
    plain = np.full((400, 640, 3), SURROUND, np.uint8)
    ground = mounted(
        [(plain, "xxxx"), (plain, "xxxx")], shown_px=560, is_column=is_column
    )
    rows = np.flatnonzero((ground > 200).any(axis=(1, 2)))
    last = rows[rows >= rows[-1] - 60]
    on_page = (last[-1] - last[0] + 1) * 560 / ground.shape[1]
    assert 5 <= on_page <= 11


@pytest.mark.parametrize("stage_px", [360, 630, 1180])
def test_windows_are_as_wide_as_their_place(bench, stage_px):
    panel = SharpenPanel(bench)
    panel.accessibility.stage_px = stage_px
    for view in ("after", "sides", "as-seen"):
        panel.view.value = view
        assert panel.settle()
        across = decoded(panel.window.value).shape[1]
        assert stage_px - 1 <= across <= stage_px


def test_the_page_has_the_surround_of_the_pictures(bench):
    style = SizePanel(bench).accessibility._css
    assert "background: rgb({}, {}, {});".format(*SURROUND) in style
    assert "$" not in style


def image_of(shown):
    """The one image of an output."""
    parsed = html5lib.parse(shown._repr_html_())
    (image,) = (it for it in parsed.iter() if it.get("src"))
    return image


def test_every_step_leaves_a_picture_that_says_what_it_is(bench):
    pictures = [
        figures.master_picture(bench.master),
        figures.sharpening_picture(bench.sheet),
        figures.proof_picture(bench.sheet),
    ]
    for picture in pictures:
        shown = image_of(picture)
        jpeg = b64decode(shown.get("src").removeprefix("data:image/jpeg;base64,"))
        assert local_contrast(decoded(jpeg)) > 1
        assert repr(picture) == picture.description == shown.get("alt")
    exact = image_of(figures.sharpening_picture(bench.sheet))
    assert "max-width: none" in exact.get("style")
    assert exact.get("width") is None
    drawing = figures.sheet_picture(bench.sheet)
    assert repr(drawing) == drawing.description
    shown = image_of(drawing)
    assert shown.get("alt").startswith("Sheet ")
    svg = b64decode(shown.get("src").removeprefix("data:image/svg+xml;base64,"))
    (jpeg,) = re.findall(rb'href="data:image/jpeg;base64,([^"]*)"', svg)
    assert local_contrast(decoded(b64decode(jpeg))) > 1
