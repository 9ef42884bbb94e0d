"""Wedges, rooms and curves are drawn with what the numbers say of them."""

from itertools import pairwise

import numpy as np
import pytest
from matplotlib.figure import Figure

from printplan.colour.spaces import named_profile
from printplan.colour.tone import (
    ToneWedge,
    lightness_to_density,
    neutrality,
    print_wedge,
    tone_scale,
    tone_steps,
)
from printplan.colour.viewing import ROOMS_LX, match_display
from printplan.spec import BlackPointCompensation, Intent, NamedSpace
from printplan.workbook.drawings.light import (
    draw_display_match,
    draw_shadow_steps,
    shadow_rooms,
)
from printplan.workbook.drawings.page import FIELD, INK, screen_rgb
from printplan.workbook.drawings.tone import (
    draw_brackets,
    draw_grey_drift,
    draw_strip,
    draw_tone_curve,
    draw_wedge_end,
    runs,
    tone_words,
)

WISH = {
    "intent": Intent.MEDIA_RELATIVE,
    "black_point_compensation": BlackPointCompensation.ON,
}


@pytest.fixture(scope="module")
def wedge(paper_profiles):
    source = named_profile(NamedSpace.ROMM_RGB)
    return print_wedge(source, paper_profiles["Fen Cotton 310"], **WISH)


@pytest.fixture(scope="module")
def shadows(paper_profiles):
    source = named_profile(NamedSpace.ROMM_RGB)
    return print_wedge(
        source,
        paper_profiles["Fen Cotton 310"],
        source_l=np.arange(21.0),
        **WISH,
    )


@pytest.fixture
def axes():
    return Figure().add_subplot()


def brackets(axes, row):
    """Ends of the brackets under a row, as first and last step that they hold."""
    return [
        (round(line.get_xdata()[0] + 0.44), round(line.get_xdata()[-1] - 0.44))
        for line in axes.lines
        if len(line.get_xdata()) == 4 and row < line.get_ydata()[1] < row + 0.5
    ]


def words_of(axes):
    return [text.get_text() for text in axes.texts]


# Strips


@pytest.mark.parametrize(
    ("flags", "expected"),
    [
        ([], []),
        ([0, 0], []),
        ([1], [(0, 0)]),
        ([1, 1, 0, 1], [(0, 1), (3, 3)]),
        ([0, 1, 1, 1], [(1, 3)]),
    ],
)
def test_stretches_of_flags(flags, expected):
    assert runs(np.array(flags, bool)) == expected


def test_a_strip_shows_each_grey_round_its_own_place(axes):
    greys = np.array([[10.0, 0, 0], [50.0, 0, 0], [95.0, 0, 0]])
    draw_strip(greys, 2.0, axes)
    left, right, foot, head = axes.images[0].get_extent()
    assert (left, right) == (-0.5, 2.5)
    assert head < 2.0 < foot
    assert (axes.images[0].get_array() == screen_rgb(greys)[None]).all()


def test_a_bracket_holds_both_steps_of_each_pair_that_is_apart(axes):
    draw_brackets(np.array([False, True, True, False]), 0, "2 of 4", axes)
    assert brackets(axes, 0) == [(1, 3)]
    assert words_of(axes) == ["2 of 4"]


# Light


def test_paper_and_display_stand_at_their_luminance(axes):
    # E·ρ/π of the paper at ISO 3664 P2, 500 lx: 141.65 cd/m² for ρ = 0.89.
    draw_display_match(match_display(500, 0.89, 120), axes)
    assert axes.get_xscale() == "log"
    assert "cd/m²" in axes.get_xlabel()
    paper, display = (line.get_xdata()[0] for line in axes.lines)
    assert paper == pytest.approx(141.65, abs=0.005)
    assert display == 120
    assert "141.6 cd/m²" in words_of(axes)
    assert axes.lines[0].get_marker() != axes.lines[1].get_marker()


def test_luminances_beyond_the_scale_widen_it(axes):
    draw_display_match(match_display(3, 0.8, 4000), axes)
    low, high = axes.get_xlim()
    assert low < 3 * 0.8 / np.pi
    assert high > 4000


def test_each_room_has_its_bracket_and_its_count(shadows, axes):
    rooms = shadow_rooms(shadows)
    assert list(rooms) == list(ROOMS_LX)
    draw_shadow_steps(shadows, rooms, axes)
    assert axes.get_xlabel() == "L* of the master's step"
    names = [label.get_text() for label in axes.get_yticklabels()]
    counts = []
    for row, (name, (lux, steps)) in enumerate(rooms.items()):
        assert names[row] == f"{name}\n{lux:g} lx"
        held = sum(last - first for first, last in brackets(axes, row))
        assert held == steps.distinct
        assert words_of(axes)[row].startswith(f"{held} of 20 told apart")
        counts.append(held)
    # Dimmer rooms, which come later, never show more.
    assert all(first >= second for first, second in pairwise(counts))
    assert counts[0] > counts[-1]


def test_a_guess_beyond_the_model_is_named(axes):
    deep = ToneWedge(
        source_l=np.arange(3.0),
        device=np.zeros((3, 3), np.uint16),
        relative_lab=np.zeros((3, 3)),
        printed_lab=np.array([[1.0, 0, 0], [2.0, 0, 0], [3.0, 0, 0]]),
    )
    draw_shadow_steps(deep, shadow_rooms(deep, {"cellar": 10.0}), axes)
    assert "extrapolated" in words_of(axes)[0]


# Tone


@pytest.mark.parametrize("light", [False, True])
def test_ends_of_the_wedge_are_the_printed_steps_with_their_brackets(
    wedge, axes, light
):
    draw_wedge_end(wedge, light=light, axes=axes)
    part = slice(-21, None) if light else slice(21)
    assert (axes.images[0].get_array() == screen_rgb(wedge.printed_lab[part])).all()
    flags = (
        tone_steps(wedge).is_separate[-20:]
        if light
        else (tone_steps(wedge).is_separate[:20])
    )
    assert [(first, last + 1) for first, last in runs(flags)] == brackets(axes, 0)
    labels = [label.get_text() for label in axes.get_xticklabels()]
    assert labels[0] == ("80" if light else "0")
    assert labels[-1] == ("100" if light else "20")


def test_the_tone_curve_is_the_wedge_and_names_its_ends(wedge, axes):
    scale = tone_scale(wedge)
    draw_tone_curve(wedge, scale, axes)
    assert axes.get_xlabel() == "L* of the master"
    curve = next(line for line in axes.lines if line.get_label() == "this paper")
    assert (curve.get_xdata() == wedge.source_l).all()
    assert (curve.get_ydata() == wedge.printed_lab[:, 0]).all()
    black = scale.darkest.printed_l
    expected = f"deepest: L* {black:.1f}, density {lightness_to_density(black):.2f}"
    assert expected in words_of(axes)


def test_drift_is_drawn_in_cielab_units_round_zero(wedge, axes):
    cast = neutrality(wedge)
    draw_grey_drift(wedge, cast, axes)
    assert "CIELAB units" in axes.get_ylabel()
    drawn = {line.get_label()[:2]: line.get_ydata() for line in axes.lines}
    assert (drawn["a*"] == cast.drift_a).all()
    assert (drawn["b*"] == cast.drift_b).all()
    low, high = axes.get_ylim()
    assert low == -high
    assert high > cast.max_chroma


def test_a_strong_cast_stays_inside_the_axes(wedge, axes):
    tinted = ToneWedge(
        source_l=wedge.source_l,
        device=wedge.device,
        relative_lab=wedge.relative_lab + np.array([0, 0, 14.0]),
        printed_lab=wedge.printed_lab,
    )
    draw_grey_drift(tinted, neutrality(tinted), axes)
    assert axes.get_ylim()[1] > 14


def test_the_tone_test_is_told_in_words(wedge):
    scale, cast = tone_scale(wedge), neutrality(wedge)
    words = tone_words(scale, cast)
    assert f"{scale.share_kept:.0%} of the master's range" in words
    assert f"density range of {scale.density_range:.2f}" in words
    assert f"{cast.max_chroma:.1f} at most" in words


def test_a_drawing_dresses_axes_that_it_is_given(wedge, axes):
    """Axes of a plain white figure become readable too."""
    draw_tone_curve(wedge, tone_scale(wedge), axes)
    assert axes.get_facecolor()[:3] == pytest.approx(
        [int(FIELD[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    )
    assert axes.xaxis.label.get_color() == INK
