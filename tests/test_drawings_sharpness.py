"""What drawings of sharpness say is what was computed, and anyone can read it."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.text import Text
from scipy.special import ndtr

from printplan.pixels.strongest_edge import EdgeProfile, SideHalo, StrongestEdge
from printplan.sharpening.chain import Chain
from printplan.sharpening.effect import sharpening_effect
from printplan.sizing.boxes import Box
from printplan.workbook.drawings.page import (
    FIELD,
    GROUND,
    INK,
    as_drawing,
    new_page,
)
from printplan.workbook.drawings.response import (
    draw_edge_profile,
    draw_responses,
    draw_step_responses,
    edge_figure,
    responses_figure,
)

DARK_L, LIGHT_L, DISTANCE_MM = 40.0, 70.0, 500.0
NO_HALO = SideHalo(
    overshoot_share=0.0, crest_mm=0.0, begins_mm=0.0, width_um=0.0, width_arcmin=0.0
)


def profile(position_mm, gain, edge_sigma_mm):
    """An error function's edge after unsharp masking with a Gaussian of 0.12 mm."""
    wide = np.hypot(edge_sigma_mm, 0.12)
    edge = (1 + gain) * ndtr(position_mm / edge_sigma_mm)
    edge -= gain * ndtr(position_mm / wide)
    above = edge - 1
    crest, half = above.argmax(), above.max() / 2
    middle = position_mm.size // 2
    inner, outer = slice(middle, crest + 1), slice(crest, None)
    begins_mm = np.interp(half, above[inner], position_mm[inner])
    ends_mm = np.interp(-half, -above[outer], position_mm[outer])
    width_um = 1000 * (ends_mm - begins_mm)
    lightness = DARK_L + (LIGHT_L - DARK_L) * edge
    halo = SideHalo(
        overshoot_share=float(above.max()),
        crest_mm=float(position_mm[crest]),
        begins_mm=float(begins_mm),
        width_um=float(width_um),
        width_arcmin=float(np.degrees(width_um / 1000 / DISTANCE_MM) * 60),
    )
    return EdgeProfile(
        luminance=((lightness + 16) / 116) ** 3,
        lightness_l=lightness,
        light=halo if gain else NO_HALO,
        dark=halo if gain else NO_HALO,
        rise_um=2.5631 * edge_sigma_mm * 1000,
    )


@pytest.fixture(scope="module")
def edge():
    position = np.linspace(-0.9, 0.9, 721)
    return StrongestEdge(
        box=Box(0, 0, 100, 100),
        across_px=50.0,
        down_px=50.0,
        angle_deg=5.0,
        dark_l=DARK_L,
        light_l=LIGHT_L,
        position_mm=position,
        distance_mm=DISTANCE_MM,
        spread=50.0,
        before=profile(position, 0.0, 0.08),
        in_file=profile(position, 1.2, 0.08),
        in_print=profile(position, 1.2, 0.1),
        words="The strongest straight edge here goes from L* 40 to 70.",
    )


@pytest.fixture(scope="module")
def chain():
    return Chain(
        spread=50.0,
        ppi=300.0,
        master_edge_sigma_px=0.6,
        enlargement=1.3,
        distance_mm=DISTANCE_MM,
        luminance_cd_m2=141.65,
        lightness_l=50.0,
    )


@pytest.fixture(scope="module")
def effect(chain):
    return sharpening_effect(chain, gain=1.4, blur=1.0, noise_l=0.3)


def axes():
    return new_page(800, 600, "").add_subplot()


def lines_of(drawn):
    return {line.get_label(): line for line in drawn.lines}


def test_the_three_profiles_are_drawn_as_they_are(edge):
    lines = lines_of(draw_edge_profile(edge, axes()))
    for name, stage in (
        ("before sharpening", edge.before),
        ("in the file", edge.in_file),
        ("in the print", edge.in_print),
    ):
        assert (lines[name].get_xdata() == edge.position_mm).all()
        assert (lines[name].get_ydata() == stage.lightness_l).all()


def test_profiles_are_told_apart_without_colour(edge):
    lines = lines_of(draw_edge_profile(edge, axes()))
    dashes = {
        str(lines[name]._unscaled_dash_pattern)
        for name in ("before sharpening", "in the file", "in the print")
    }
    assert len(dashes) == 3


def test_overshoot_is_marked_at_its_height_and_said(edge):
    drawn = draw_edge_profile(edge, axes())
    for stage, name in ((edge.in_file, "file"), (edge.in_print, "print")):
        share = stage.light.overshoot_share
        label = f"overshoot in the {name}: {share:.1%} of the step"
        height = DARK_L + (LIGHT_L - DARK_L) * (1 + share)
        assert lines_of(drawn)[label].get_ydata()[0] == pytest.approx(height)


def test_crests_of_both_sides_are_marked_and_stand_inside_the_axes(edge):
    drawn = draw_edge_profile(edge, axes())
    marks = [line for line in drawn.lines if len(line.get_xdata()) == 1]
    assert len(marks) == 4
    at_mm = sorted(float(line.get_xdata()[0]) for line in marks)
    # The same closed form on both sides of the edge.
    assert at_mm == pytest.approx([-it for it in reversed(at_mm)])
    left, right = drawn.get_xlim()
    assert left + 0.1 < at_mm[0]
    assert at_mm[-1] < right - 0.1


def test_the_ruler_is_as_wide_as_the_halo(edge):
    halo = edge.in_print.light
    label = f"halo in the print: {halo.width_um:.0f} µm, {halo.width_arcmin:.1f} arcmin"
    ruler = lines_of(draw_edge_profile(edge, axes()))[label]
    start, end = ruler.get_xdata()
    half = ruler.get_ydata()[0]
    assert 1000 * (end - start) == pytest.approx(halo.width_um)
    # Both of its ends lie on the print's line.
    on_line = np.interp([start, end], edge.position_mm, edge.in_print.lightness_l)
    assert on_line == pytest.approx([half, half], abs=0.05)


def test_an_edge_without_halo_has_no_marks(edge):
    plain = replace(edge, in_file=edge.before, in_print=edge.before)
    labels = list(lines_of(draw_edge_profile(plain, axes())))
    assert not [label for label in labels if "overshoot" in label or "halo" in label]


def test_the_upper_scale_is_the_angle_at_the_eye(edge):
    drawn = draw_edge_profile(edge, axes())
    drawn.figure.canvas.draw()
    (above,) = drawn.child_axes
    # A minute of arc at 500 mm is 500 tan(1/60°) = 0.14544 mm.
    assert above.get_xlim() == pytest.approx(np.array([-0.9, 0.9]) / 0.14544, rel=1e-4)


def test_steps_multiply_to_what_reaches_the_eye(chain, effect):
    steps = lines_of(draw_step_responses(chain, effect, axes()))
    whole = lines_of(draw_responses(chain, effect, axes()))
    losses = ["master", "resampling", "printer and paper"]
    before = np.prod([steps[name].get_ydata() for name in losses], axis=0)
    assert whole["without sharpening"].get_ydata() == pytest.approx(before)
    after = before * steps["sharpening"].get_ydata()
    assert whole["with sharpening"].get_ydata() == pytest.approx(after)
    # The halved contrast of a Gaussian of 50 µm: 0.18739 / 0.05 mm (ISO 12233's MTF50).
    paper = steps["printer and paper"]
    at = np.interp(0.187390 / 0.05, paper.get_xdata(), paper.get_ydata())
    assert at == pytest.approx(0.5, abs=1e-3)


def test_responses_end_at_what_pixels_hold_or_eyes_see(chain, effect):
    # 300 ppi hold 300 / 50.8 cycles/mm; 60 cycles/degree at 4 m are 0.859 cycles/mm.
    far = replace(chain, distance_mm=4000.0)
    for near, end in ((chain, 300 / 50.8), (far, 60 / (4000 * np.pi / 180))):
        drawn = draw_responses(near, effect, axes())
        assert drawn.get_xlim()[1] == pytest.approx(end)
        drawn.figure.canvas.draw()
        (above,) = drawn.child_axes
        degrees = end * near.distance_mm * np.pi / 180
        assert above.get_xlim()[1] == pytest.approx(degrees)


def test_the_eye_is_scaled_to_one_at_its_highest(chain, effect):
    drawn = draw_responses(chain, effect, axes())
    (eye,) = drawn.collections
    heights = eye.get_paths()[0].vertices[:, 1]
    # Its highest, some 2 to 4 cycles/degree, lies inside this field.
    assert heights.max() == pytest.approx(1, abs=0.01)
    assert eye.get_label() == "the eye's sensitivity, scaled"


def contrast(one, other):
    """Contrast ratio of two sRGB colours: WCAG 2.2 (W3C Recommendation, 2023)."""
    luminances = []
    for colour in (one, other):
        share = np.asarray(colour, np.float64) / 255
        linear = np.where(
            share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4
        )
        luminances.append(linear @ [0.2126, 0.7152, 0.0722])
    return (max(luminances) + 0.05) / (min(luminances) + 0.05)


def rgb_of(hex_colour):
    return [int(hex_colour[place : place + 2], 16) for place in (1, 3, 5)]


@pytest.fixture(params=["edge", "responses"])
def figure(request, edge, chain, effect):
    if request.param == "edge":
        return edge_figure(edge, paper="Fen Cotton 310")
    return responses_figure(chain, effect, paper="Fen Cotton 310")


@pytest.mark.slow
def test_words_are_read_in_any_page_and_none_is_cut_off(figure):
    figure.canvas.draw()
    pixels = np.asarray(figure.canvas.buffer_rgba())[..., :3]
    rim = np.concatenate([pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]])
    assert (rim == rgb_of(GROUND)).all()
    shown = 0
    for text in figure.findobj(Text):
        if not (text.get_visible() and text.get_text().strip()):
            continue
        box = text.get_window_extent()
        part = pixels[
            max(round(pixels.shape[0] - box.y1), 0) : round(pixels.shape[0] - box.y0),
            max(round(box.x0), 0) : round(box.x1),
        ]
        if not part.size:
            continue
        colour = to_hex(text.get_color())
        assert colour in {INK, FIELD}, text.get_text()
        values, counts = np.unique(part.reshape(-1, 3), axis=0, return_counts=True)
        # WCAG 2.2, success criterion 1.4.3.
        behind = values[counts.argmax()]
        assert contrast(rgb_of(colour), behind) >= 4.5, text.get_text()
        shown += 1
    assert shown >= 10


@pytest.mark.slow
def test_a_drawing_is_opaque_and_tells_what_it_shows(figure):
    drawing = as_drawing(figure, "Sharpness.")
    assert repr(drawing) == "Sharpness."
    assert drawing.width_css_px == 860


def test_words_of_the_responses_are_the_effects(chain, effect):
    figure = responses_figure(chain, effect, paper="Fen Cotton 310")
    words = " ".join(text.get_text() for text in figure.findobj(Text))
    words = " ".join(words.split())
    assert f"off by {effect.error_before:.1%} without sharpening" in words
    assert f"highest response is {effect.peak_mtf:.2f}" in words
    assert "5.9 cycles/mm, the finest pattern that these print pixels hold" in words
