"""The trial sheet: patches, targets, words and places, in the file that is rendered."""

from dataclasses import replace
from datetime import date

import numpy as np
import pikepdf
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import ndimage

from printplan.colour.spaces import lab_from_xyz, named_profile, xyz_from_lab
from printplan.colour.transforms import device_to_lab, lcms_convert
from printplan.errors import FitError, RenderError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.render import render
from printplan.pixels.sheet import Appearance, build_sheet, varied
from printplan.pixels.trials.lettering import (
    NAME_X_HEIGHT_MM,
    TEXT_X_HEIGHT_MM,
    Letters,
    Line,
    drawn_lines,
    text_width_px,
    wrapped,
)
from printplan.pixels.trials.marks import Flat, Lines, SlantedSquare, covered_share
from printplan.pixels.trials.neutrals import neutral_scale, wedge_codes
from printplan.pixels.trials.steps import (
    PATCH_LETTERS,
    TrialStep,
    intent_steps,
    lightness_steps,
    patch_names,
    plain_steps,
    restore_steps,
)
from printplan.pixels.trials.trial_sheet import TrialSpec, TrialTargets, make_trial
from printplan.pixels.trials.wording import step_words
from printplan.sizing.boxes import Box
from printplan.sizing.trial_layout import TrialCover, trial_area
from printplan.spec import (
    ColourSpec,
    Delivery,
    DeliverySpec,
    FileFormat,
    Intent,
    NamedSpace,
    Orientation,
    SharpenSpec,
    SheetSpec,
)
from printplan.units import mm_from_px, px_from_mm

A4 = SheetSpec(media_size="A4", feed="front slot")
RESTORES = (0.5, 0.75, 1.0, 1.25)


def sharpened(restore):
    return SharpenSpec(
        gain=1.2 * restore,
        radius_mm=0.085,
        halo_limit_share=0.3,
        restore=restore,
        distance_mm=500,
    )


@pytest.fixture(scope="module")
def master(studio):
    with open_master(studio.scenario.seed_heads) as opened:
        yield opened


@pytest.fixture(scope="module")
def sheet(master, plan_for):
    return build_sheet(master, plan_for(master, width_mm=300.0, gain=0.8))


@pytest.fixture(scope="module")
def steps(sheet):
    return restore_steps(
        sheet, [(f"restore {value:g}", sharpened(value)) for value in RESTORES]
    )


def places(sheet, count=1):
    """Windows spread over the picture."""
    picture = sheet.plan.picture_in_file
    return [
        Box(
            picture.left + picture.width * (n + 1) // (count + 2),
            picture.top + picture.height * (n + 1) // (count + 2),
            400,
            300,
        )
        for n in range(count)
    ]


@pytest.fixture(scope="module")
def trial(sheet, steps):
    return make_trial(
        sheet, steps, places(sheet), TrialSpec(sheet=A4, on=date(2031, 5, 4))
    )


@pytest.fixture(scope="module")
def rendered(trial, tmp_path_factory):
    done = render(trial, tmp_path_factory.mktemp("trial") / "trial.tif")
    return done, tifffile.imread(done.path)


def cut(pixels, box):
    return pixels[box.top : box.bottom, box.left : box.right]


# Patches ---------------------------------------------------------------------------


@pytest.mark.slow
def test_a_patch_is_what_the_whole_print_would_hold_there(
    sheet, trial, rendered, tmp_path
):
    """Against the file of the variant's own print, rendered by itself."""
    for patch in trial.key.patches[1:3]:
        own = varied(sheet, replace(sheet.plan.spec, sharpen=patch.sharpen))
        whole = tifffile.imread(render(own, tmp_path / f"{patch.name}.tif").path)
        assert np.array_equal(cut(rendered[1], patch.on_page), cut(whole, patch.window))
    first, last = (cut(rendered[1], trial.key.patches[n].on_page) for n in (0, -1))
    assert not np.array_equal(first, last)


@pytest.mark.slow
def test_an_8_bit_patch_has_the_print_s_own_noise(master, plan_for, tmp_path):
    plan = plan_for(
        master, gain=0.8, delivery=DeliverySpec(file_format=FileFormat.TIFF_8)
    )
    sheet = build_sheet(master, plan)
    trial = make_trial(sheet, plain_steps(sheet), places(sheet, 2), TrialSpec(sheet=A4))
    page = tifffile.imread(render(trial, tmp_path / "trial.tif").path)
    whole = tifffile.imread(render(sheet, tmp_path / "print.tif").path)
    assert page.dtype == np.uint8
    for patch in trial.key.patches:
        assert np.array_equal(cut(page, patch.on_page), cut(whole, patch.window))


@settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_any_window_is_that_box_of_the_file(trial, rendered, data):
    width, height = trial.size_px
    left = data.draw(st.integers(0, width - 1))
    top = data.draw(st.integers(0, height - 1))
    box = Box(
        left,
        top,
        data.draw(st.integers(1, min(700, width - left))),
        data.draw(st.integers(1, min(700, height - top))),
    )
    assert np.array_equal(trial.window(box), cut(rendered[1], box))


def test_patches_are_at_an_exact_pitch(sheet, steps):
    trial = make_trial(sheet, steps, places(sheet, 3), TrialSpec(sheet=A4_OF["A2"]))
    boxes = [patch.on_page for patch in trial.key.patches]
    assert len(boxes) == 12
    width = round(px_from_mm(60, 300))
    assert {(box.width, box.height) for box in boxes} == {
        (width, round(px_from_mm(45, 300)))
    }
    lefts = sorted({box.left for box in boxes})
    assert len(set(np.diff(lefts))) == 1
    assert len(set(np.diff(sorted({box.top for box in boxes})))) == 1
    # One row for each place, its steps from left to right.
    assert [patch.name for patch in trial.key.patches][:5] == [
        "A1", "B1", "C1", "D1", "A2",
    ]  # fmt: skip
    assert len({box.top for box in boxes[:4]}) == 1


A4_OF = {size: replace(A4, media_size=size) for size in ("A2", "A3", "A4")}


def test_a_patch_near_the_picture_s_edge_is_moved_into_it(sheet, steps):
    picture = sheet.plan.picture_in_file
    corner = Box(picture.right - 20, picture.bottom - 20, 40, 40)
    trial = make_trial(sheet, steps, [corner], TrialSpec(sheet=A4))
    window = trial.key.patches[0].window
    assert (window.right, window.bottom) == (picture.right, picture.bottom)
    assert window.width == trial.key.patches[0].on_page.width


def test_a_picture_smaller_than_a_patch_is_shown_whole(master, plan_for):
    sheet = build_sheet(master, plan_for(master, width_mm=40.0))
    trial = make_trial(sheet, plain_steps(sheet), places(sheet), TrialSpec(sheet=A4))
    assert trial.key.patches[0].window == sheet.plan.picture_in_file


def test_steps_of_lightness_are_lighter_one_by_one(sheet):
    steps = lightness_steps(sheet, (-4.0, 0.0, 4.0))
    trial = make_trial(sheet, steps, places(sheet), TrialSpec(sheet=A4))
    means = [
        device_to_lab(
            trial.window(patch.on_page), sheet.output, intent=Intent.MEDIA_RELATIVE
        )[..., 0].mean()
        for patch in trial.key.patches
    ]
    assert means[0] < means[1] < means[2]
    assert [patch.colour.lighten_l for patch in trial.key.patches] == [-4, 0, 4]


# The page --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("media_size", "orientation", "feed", "ppi"),
    [
        ("A4", Orientation.PORTRAIT, "front slot", 300),
        ("A3", Orientation.LANDSCAPE, "front slot", 360),
        ("A3", Orientation.PORTRAIT, "sheet feeder", 300),
    ],
)
def test_no_ink_lies_on_what_the_feed_cannot_print(
    master, plan_for, media_size, orientation, feed, ppi
):
    sheet = build_sheet(
        master, plan_for(master, paper="Heron Baryta 315", ppi=float(ppi))
    )
    on = SheetSpec(media_size=media_size, feed=feed, orientation=orientation)
    trial = make_trial(sheet, intent_steps(sheet), places(sheet), TrialSpec(sheet=on))
    margins = sheet.plan.printer.feed(feed).margins
    # Printed side up, a landscape sheet's left is the edge that leaves last.
    sides = (margins.left_mm, margins.leading_mm, margins.right_mm, margins.trailing_mm)
    if orientation is Orientation.LANDSCAPE:
        sides = (sides[3], sides[0], sides[1], sides[2])
    left, top, right, bottom = (round(px_from_mm(side, ppi)) for side in sides)
    width, height = trial.size_px
    assert (width, height) == (
        round(px_from_mm(trial.plan.page_mm[0], ppi)),
        round(px_from_mm(trial.plan.page_mm[1], ppi)),
    )
    for box in (
        Box(0, 0, left - 1, height),
        Box(0, 0, width, top - 1),
        Box(width - right + 1, 0, right - 1, height),
        Box(0, height - bottom + 1, width, bottom - 1),
    ):
        assert (trial.window(box) == 65535).all()


def test_words_and_targets_keep_clear_of_pictures(trial):
    boxes = [patch.on_page for patch in trial.key.patches]
    marks = [mark.box for mark in trial._marks]
    assert all(mark.common(box) is None for mark in marks for box in boxes)
    area = trial_area(trial.plan.paper, trial.plan.ppi)
    flat = [mark for mark in trial._marks if not hasattr(mark, "share")]
    assert all(area.common(mark.box) == mark.box for mark in flat)


@pytest.mark.parametrize("ppi", [300.0, 360.0, 720.0])
@pytest.mark.parametrize(
    ("letters", "x_height_mm"),
    [(Letters.NAME, NAME_X_HEIGHT_MM), (Letters.TEXT, TEXT_X_HEIGHT_MM)],
)
def test_small_letters_are_as_high_on_paper_as_promised(letters, x_height_mm, ppi):
    """What the task asks: 2.2 mm for names, 1.6 mm for the rest."""
    share = drawn_lines([Line("xxx", letters)], 400, ppi)
    rows = np.flatnonzero(share.max(axis=1) > 127)
    assert mm_from_px(rows[-1] - rows[0] + 1, ppi) >= x_height_mm
    assert x_height_mm == {Letters.NAME: 2.2, Letters.TEXT: 1.6}[letters]


@pytest.mark.parametrize("width_px", [90, 300, 900])
def test_wrapped_lines_keep_to_their_width_and_lose_nothing(width_px):
    text = (
        "radius 0.085\u00a0mm, Überlangeswortohnepause, halo in the file to 30\u00a0%"
    )
    lines = wrapped(text, Letters.TEXT, width_px, 300)
    assert all(
        text_width_px(line.text, Letters.TEXT, 300) <= width_px for line in lines
    )
    assert "".join(line.text for line in lines).replace(" ", "") == text.replace(
        " ", ""
    )
    if width_px > 300:
        assert not any(line.text.startswith("%") for line in lines)


def test_words_are_dark_and_neutral_as_the_paper_has_them(trial, rendered, sheet):
    head = trial.plan.layout.head
    pixels = cut(rendered[1], head)
    lab = device_to_lab(pixels, sheet.output, intent=Intent.MEDIA_RELATIVE)
    darkest_l, _ = neutral_scale(sheet).lightness_range
    assert darkest_l < lab[..., 0].min() < darkest_l + 10
    assert np.hypot(lab[..., 1], lab[..., 2]).max() < 2


def test_the_words_under_a_patch_say_what_was_done_and_what_varies(sheet, steps):
    chosen = replace(sharpened(0.75), print_halo_limit_share=0.12, grain_floor_l=0.5)
    spec = replace(sheet.plan.spec, sharpen=chosen)
    step = TrialStep(label="restore 0.75", spec=spec)
    assert step_words(step, [step]).replace("\u00a0", " ") == (
        "gain 0.9, radius 0.085 mm, halo in the print to 12 %, grain floor 0.5 L*, "
        "for 500 mm"
    )
    assert "halo in the file to 30" in step_words(steps[0], steps)
    plain, lighter = lightness_steps(sheet, (0, 2.5))
    assert step_words(lighter, [plain, lighter]) == "gain 0.8, radius 0.127\u00a0mm"
    intents = intent_steps(sheet)
    renamed = replace(intents[0], label="first")
    assert step_words(renamed, intents).endswith(", perceptual with compensation")
    none = replace(spec, sharpen=SharpenSpec())
    assert step_words(TrialStep(label="plain", spec=none), []) == "not sharpened"


def test_a_strip_covers_the_top_of_its_sheet_alone(sheet, steps, tmp_path):
    wide = replace(A4, orientation=Orientation.LANDSCAPE)
    spec = TrialSpec(sheet=wide, cover=TrialCover.STRIP, targets=TrialTargets.NONE)
    strip = make_trial(sheet, steps, places(sheet), spec)
    whole = make_trial(
        sheet, steps, places(sheet), replace(spec, cover=TrialCover.SHEET)
    )
    assert strip.size_px[0] == whole.size_px[0]
    assert strip.size_px[1] < 0.55 * whole.size_px[1]
    # Its head and patches are where the whole sheet has them.
    assert strip.key == whole.key
    assert strip.plan.page_mm == (297, mm_from_px(strip.size_px[1], 300))
    done = render(strip, tmp_path / "strip.tif")
    with tifffile.TiffFile(done.path) as tiff:
        assert tiff.pages.first.shape[:2] == strip.size_px[::-1]
    # The line to cut along is the file's last rows.
    area = trial_area(strip.plan.paper, 300)
    last = strip.window(Box(area.left, strip.size_px[1] - 1, area.width, 1))
    assert (last < 30000).all()


@pytest.mark.slow
def test_a_pdf_page_has_the_strip_s_exact_size(master, plan_for, tmp_path):
    plan = plan_for(master, delivery=DeliverySpec(file_format=FileFormat.PDF))
    sheet = build_sheet(master, plan)
    strip = make_trial(
        sheet,
        plain_steps(sheet),
        places(sheet, 2),
        TrialSpec(sheet=A4, cover=TrialCover.STRIP, targets=TrialTargets.NONE),
    )
    path = render(strip, tmp_path / "strip.pdf").path
    with pikepdf.open(path) as pdf:
        box = [float(edge) for edge in pdf.pages[0].MediaBox]
    expected = [0, 0, *(edge * 72 / 25.4 for edge in strip.plan.page_mm)]
    assert box == pytest.approx(expected, abs=1e-5)


def test_memory_follows_the_width_and_not_the_area(sheet):
    trial = make_trial(sheet, [], [], TrialSpec(sheet=A4_OF["A2"]))
    rows = 0
    for top, band in trial.bands():
        assert top == rows
        assert band.shape[0] * band.shape[1] <= 1_000_000
        rows += band.shape[0]
    assert rows == trial.size_px[1]


@pytest.mark.slow
def test_an_overview_keeps_the_shape_and_mean_light_of_the_page(trial):
    shown = trial.overview(500, Appearance.PAPER_ALONE)
    assert max(shown.shape) <= 500
    assert shown.shape[0] / shown.shape[1] == pytest.approx(2**0.5, rel=0.01)
    exact = trial.proof_window(trial.plan.layout.file_box, Appearance.PAPER_ALONE)

    def light(codes):
        """IEC 61966-2-1."""
        share = codes / 255
        return np.where(
            share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4
        )

    # Rounding to 8 bits averages out over a hundred thousand pixels.
    assert light(shown).mean() == pytest.approx(light(exact).mean(), rel=0.003)


def test_a_trial_never_replaces_its_master(trial, master):
    with pytest.raises(RenderError, match="master"):
        render(trial, master.facts.path, overwrite=True)


# Targets ---------------------------------------------------------------------------


def test_a_pixel_on_an_edge_is_covered_by_its_area():
    """Against 64 × 64 points in each of some pixels."""
    offsets = (np.arange(64) + 0.5) / 64 - 0.5
    for tilt_deg in (5.0, -5.0, 30.0):
        turn = np.radians(tilt_deg)
        along = offsets * np.cos(turn)
        beside = offsets[:, None] * np.sin(turn)
        for distance in np.linspace(-0.8, 0.8, 33):
            points = np.mean(distance + along + beside > 0)
            share = covered_share(np.array([distance]), tilt_deg)[0]
            # One row of points more or less.
            assert share == pytest.approx(points, abs=1 / 64)


@pytest.mark.parametrize("paper", ["Fen Cotton 310", "Heron Baryta 315"])
def test_a_printed_edge_has_luminance_by_area(master, plan_for, paper):
    """Through LittleCMS and the profile's own way back from the printer's numbers."""
    sheet = build_sheet(master, plan_for(master, paper=paper))
    feed = sheet.plan.feed.name
    trial = make_trial(sheet, [], [], TrialSpec(sheet=replace(A4, feed=feed)))
    squares = [mark for mark in trial._marks if isinstance(mark, SlantedSquare)]
    assert len(squares) == trial.key.squares.count == 6
    assert {square.tilt_deg for square in squares} == {5.0, -5.0}
    for square in squares[::3]:
        printed = device_to_lab(
            trial.window(square.box), sheet.output, intent=Intent.MEDIA_RELATIVE
        )
        luminance = xyz_from_lab(printed)[..., 1]
        # The square drawn anew: 8 × 8 points in each pixel, within or without.
        length = square.box.width
        down, across = (np.mgrid[: length * 8, : length * 8] + 0.5) / 8 - length / 2
        turn = np.radians(square.tilt_deg)
        half = px_from_mm(8, 300) / 2
        inside = (np.abs(across * np.cos(turn) + down * np.sin(turn)) < half) & (
            np.abs(down * np.cos(turn) - across * np.sin(turn)) < half
        )
        share = inside.reshape(length, 8, length, 8).mean(axis=(1, 3))
        drawn = square.ground + (square.inside - square.ground) * share
        # An eighth of a pixel's area where an edge runs along a row of points.
        step = square.ground - square.inside
        assert np.abs(luminance - drawn).max() < 0.13 * step
        even = ndimage.maximum_filter(share, 3) == ndimage.minimum_filter(share, 3)
        assert np.abs(luminance - drawn)[even].max() < 1e-3
        # Neutral as the profile has it: its own round trip, some tenths of chroma.
        assert np.hypot(printed[..., 1], printed[..., 2]).max() < 1


def test_line_groups_alternate_on_whole_pixels(trial):
    groups = [mark for mark in trial._marks if isinstance(mark, Lines)]
    assert len(groups) == 4 * 2 * 3
    for group in groups:
        pixels = trial.window(group.box).astype(int)
        across = pixels[0] if group.is_upright else pixels[:, 0]
        along = pixels if group.is_upright else pixels.transpose(1, 0, 2)
        assert (along == along[:1]).all()
        runs = np.flatnonzero(np.any(np.diff(across, axis=0), axis=1)) + 1
        assert set(np.diff([0, *runs, len(across)])) == {group.line_px}
        assert len(across) % (2 * group.line_px) == 0
        assert across[0].sum() < across[-1].sum()


def test_lines_that_merge_are_as_light_as_their_ground(trial, sheet):
    marks = trial._marks
    for number, mark in enumerate(marks):
        if not isinstance(mark, Lines):
            continue
        ground = next(m for m in reversed(marks[:number]) if isinstance(m, Flat))
        tones = np.stack([mark.dark, mark.light, ground.tone])[None]
        lab = device_to_lab(tones, sheet.output, intent=Intent.MEDIA_RELATIVE)[0]
        dark, light, mean = xyz_from_lab(lab)[:, 1]
        assert mean == pytest.approx((dark + light) / 2, abs=5e-4)


def test_lines_are_labelled_with_their_cycles_per_mm(monkeypatch, sheet):
    """At 300 ppi a line of one pixel makes 300 / 25.4 / 2 cycles in a millimetre."""
    said = []
    monkeypatch.setattr(
        "printplan.pixels.trials.targets.drawn_lines",
        lambda lines, *rest: said.extend(lines) or drawn_lines(lines, *rest),
    )
    make_trial(sheet, [], [], TrialSpec(sheet=A4))
    texts = [line.text for line in said]
    for width in (1, 2, 3, 4):
        assert f"{300 / 25.4 / 2 / width:.2f}" in texts
    for lightness_l in range(0, 101, 5):
        assert str(lightness_l) in texts


def test_the_wedge_is_what_a_picture_of_these_greys_becomes(master_of, plan_for):
    source_l = np.arange(0, 101, 5.0)
    light = xyz_from_lab(source_l[:, None] * [1.0, 0, 0])[:, 1]
    # ISO 22028-2: ROMM RGB's tone curve.
    codes = np.where(light < 1 / 512, 16 * light, light ** (1 / 1.8)) * 65535
    column = np.rint(np.repeat(codes, 20)).astype(np.uint16)
    greys = np.repeat(np.repeat(column[:, None], 60, axis=1)[..., None], 3, axis=-1)
    master = master_of(greys)
    for intent in (Intent.MEDIA_RELATIVE, Intent.PERCEPTUAL):
        # One print pixel to each of the master's.
        plan = plan_for(
            master, width_mm=60 * 25.4 / 300, colour=ColourSpec(intent=intent)
        )
        sheet = build_sheet(master, plan)
        picture = plan.picture_in_file
        shown = sheet.window(picture).astype(int)[10::20, 20]
        # The master's rounding to 16 bits, through a table that is steep in the deep.
        assert np.abs(shown - wedge_codes(sheet, source_l)).max() <= 40


def test_tones_stay_inside_the_paper_s_range(sheet):
    scale = neutral_scale(sheet)
    squares = make_trial(sheet, [], [], TrialSpec(sheet=A4)).key.squares
    darkest_l, lightest_l = scale.lightness_range
    tones_l = lab_from_xyz(
        np.array(squares.tones)[:, None] * xyz_from_lab(np.array([100.0, 0, 0]))
    )[:, 0]
    assert darkest_l + 8 < tones_l.min()
    assert tones_l.max() < lightest_l - 5
    assert lightest_l == pytest.approx(100)
    assert (scale.codes_of(1.0) == 65535).all()


def test_a_file_still_to_be_converted_has_targets_that_print_right(master, plan_for):
    """Working colour: sent through the plan's intent, the tones are those asked for."""
    plan = plan_for(master, delivery=DeliverySpec(colour=Delivery.WORKING_COLOUR))
    sheet = build_sheet(master, plan)
    trial = make_trial(sheet, [], [], TrialSpec(sheet=A4))
    assert trial.profile == sheet.master.profile
    for square in (m for m in trial._marks if isinstance(m, SlantedSquare)):
        corner = trial.window(Box(square.box.left, square.box.top, 4, 4))
        device = lcms_convert(
            corner,
            trial.profile,
            sheet.output,
            intent=plan.spec.colour.intent,
            black_point_compensation=plan.spec.colour.black_point_compensation,
        )
        lab = device_to_lab(device, sheet.output, intent=Intent.MEDIA_RELATIVE)
        assert xyz_from_lab(lab)[..., 1] == pytest.approx(square.ground, abs=1e-3)


@pytest.mark.slow
def test_a_trial_goes_to_an_outside_service_too(master, plan_for, tmp_path):
    plan = plan_for(
        master,
        delivery=DeliverySpec(
            colour=Delivery.NAMED_SPACE,
            named_space=NamedSpace.SRGB,
            file_format=FileFormat.JPEG,
        ),
    )
    sheet = build_sheet(master, plan)
    trial = make_trial(sheet, plain_steps(sheet), places(sheet), TrialSpec(sheet=A4))
    assert render(trial, tmp_path / "trial.jpg").width_px == trial.size_px[0]
    assert trial.profile == named_profile(NamedSpace.SRGB)


# What a pick means -------------------------------------------------------------------


def test_a_picked_patch_turns_into_a_wish(sheet, trial):
    wish = trial.key.wish(sheet.plan.spec, "c")
    assert wish.sharpen == sharpened(1.0)
    assert wish == replace(sheet.plan.spec, sharpen=sharpened(1.0))
    pick = trial.key.restore_trial("C")
    assert (pick.offered, pick.picked) == (RESTORES, 1.0)


def test_a_pick_among_hand_made_steps_has_no_restore(sheet):
    trial = make_trial(
        sheet, lightness_steps(sheet, (0, 3)), places(sheet), TrialSpec(sheet=A4)
    )
    with pytest.raises(SpecError, match=r"2 of 2 patches .* values of restore"):
        trial.key.restore_trial("A")
    assert trial.key.wish(sheet.plan.spec, "B").colour.lighten_l == 3


def test_a_patch_that_is_not_there_is_told(trial):
    with pytest.raises(SpecError, match=r"no patch 'Q'.*A, B, C, D"):
        trial.key.patch("Q")


def test_names_cannot_be_misread_upside_down():
    """Turned by 180°, by the shapes of capitals (from memory)."""
    same_turned, turned_pairs = set("HINOSXZ"), [("M", "W"), ("6", "9")]
    assert set(PATCH_LETTERS).isdisjoint(same_turned)
    for one, other in turned_pairs:
        assert not {one, other} <= set("".join(patch_names(5, 5)))
    assert len(set(patch_names(13, 5))) == 65


# Refusals --------------------------------------------------------------------------


def test_too_many_patches_are_told_how_many_fit(sheet):
    steps = lightness_steps(sheet, [n / 2 for n in range(12)])
    spec = TrialSpec(sheet=A4, patch_width_mm=90, patch_height_mm=60)
    with pytest.raises(FitError, match=r"12 patches of 90 × 60 mm .*: (\d+) of") as no:
        make_trial(sheet, steps, places(sheet), spec)
    fits = int(no.value.problem.split(": ")[1].split()[0])
    assert make_trial(sheet, steps[:fits], places(sheet), spec)
    with pytest.raises(FitError):
        make_trial(sheet, steps[: fits + 1], places(sheet), spec)
    width, height = (
        float(word) for word in no.value.remedy.split()[3:6] if word.isdigit()
    )
    smaller = replace(spec, patch_width_mm=width, patch_height_mm=height)
    assert len(make_trial(sheet, steps, places(sheet), smaller).key.patches) == 12


@pytest.mark.parametrize("edges_mm", [(110.0, 160.0), (40.0, 200.0)])
def test_a_sheet_too_small_is_refused(sheet, edges_mm):
    small = SheetSpec(
        media_size="custom",
        feed="front slot",
        width_mm=edges_mm[0],
        height_mm=edges_mm[1],
    )
    with pytest.raises(FitError, match="larger sheet"):
        make_trial(
            sheet,
            plain_steps(sheet),
            places(sheet, 3),
            TrialSpec(sheet=small, patch_width_mm=100),
        )


def test_a_sheet_of_absurd_size_is_refused(sheet):
    roll = SheetSpec(
        media_size="custom", feed="front slot", width_mm=20_000.0, height_mm=60_000.0
    )
    with pytest.raises(SpecError, match="thousand million"):
        make_trial(sheet, [], [], TrialSpec(sheet=roll))


@pytest.mark.parametrize("width_mm", [0.0, 5.0, 500.0, float("nan")])
def test_a_patch_of_absurd_size_is_refused(width_mm):
    with pytest.raises(SpecError, match=r"60 × 45 mm is a good start"):
        TrialSpec(sheet=A4, patch_width_mm=width_mm)


def test_steps_that_are_another_print_are_refused(sheet):
    other = replace(sheet.plan.spec, size=replace(sheet.plan.spec.size, width_mm=200.0))
    with pytest.raises(SpecError, match="another trial for another size"):
        make_trial(
            sheet,
            [TrialStep(label="smaller", spec=other)],
            places(sheet),
            TrialSpec(sheet=A4),
        )


def test_a_window_outside_the_picture_is_refused(sheet, steps):
    with pytest.raises(SpecError, match="place inside the picture"):
        make_trial(sheet, steps, [Box(0, 0, 10, 10)], TrialSpec(sheet=A4))


def test_a_window_outside_the_page_is_refused(trial):
    with pytest.raises(SpecError, match="inside the file"):
        trial.window(Box(-1, 0, 10, 10))
    with pytest.raises(SpecError, match="16 px or more"):
        trial.overview(10, Appearance.PAPER_ALONE)


def test_nothing_to_print_is_refused(sheet, steps):
    with pytest.raises(SpecError, match="neither patches nor targets"):
        make_trial(sheet, [], [], TrialSpec(sheet=A4, targets=TrialTargets.NONE))
    with pytest.raises(SpecError, match="4 steps and 0 windows"):
        make_trial(sheet, steps, [], TrialSpec(sheet=A4))


def test_more_than_can_be_named_is_refused(sheet):
    steps = lightness_steps(sheet, [n / 4 for n in range(14)])
    with pytest.raises(SpecError, match="13 can be told apart"):
        make_trial(sheet, steps, places(sheet), TrialSpec(sheet=A4))
    with pytest.raises(SpecError, match="Give 5 places or fewer"):
        make_trial(sheet, steps[:2], places(sheet, 6), TrialSpec(sheet=A4))


def test_intents_cannot_be_tried_in_a_file_that_is_still_to_be_converted(
    master, plan_for
):
    plan = plan_for(master, delivery=DeliverySpec(colour=Delivery.WORKING_COLOUR))
    sheet = build_sheet(master, plan)
    with pytest.raises(SpecError, match="printer colour, converted"):
        intent_steps(sheet)
    both = [
        TrialStep(
            label=intent, spec=replace(plan.spec, colour=ColourSpec(intent=intent))
        )
        for intent in (Intent.PERCEPTUAL, Intent.MEDIA_RELATIVE)
    ]
    with pytest.raises(SpecError, match=r"printed with one.*printer colour, converted"):
        make_trial(sheet, both, places(sheet), TrialSpec(sheet=A4))
