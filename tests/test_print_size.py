import pytest
from hypothesis import given
from hypothesis import strategies as st

from printplan.errors import SpecError
from printplan.sizing.print_size import acuity_ppi, picture_size
from printplan.spec import SharpenSpec, SizeRule, SizeSpec


def spec(rule, **lengths):
    return SizeSpec(rule=rule, ppi=300, **lengths)


@pytest.mark.parametrize(
    ("distance_mm", "ppi"),
    [
        # One arcminute, ISO 8596:2017, by the closed form 25.4 / (d tan 1'):
        # values to the last printed digit.
        (304.8, pytest.approx(286.48, abs=0.005)),
        (300.0, pytest.approx(291.1, abs=0.05)),
        (1000.0, pytest.approx(87.3, abs=0.05)),
    ],
)
def test_acuity_matches_one_arcminute(distance_mm, ppi):
    assert acuity_ppi(distance_mm) == ppi


@pytest.mark.parametrize("distance_mm", [0, -1, float("nan")])
def test_acuity_refuses_no_distance(distance_mm):
    with pytest.raises(SpecError, match="near 300 mm"):
        acuity_ppi(distance_mm)


@pytest.mark.parametrize(
    ("rule", "lengths", "width_mm", "height_mm"),
    [
        (SizeRule.WIDTH, {"width_mm": 300}, 300, 200),
        (SizeRule.HEIGHT, {"height_mm": 300}, 450, 300),
        (SizeRule.LONGEST_EDGE, {"longest_mm": 300}, 300, 200),
        (SizeRule.FIT, {"width_mm": 300, "height_mm": 300}, 300, 200),
        (SizeRule.FIT, {"width_mm": 600, "height_mm": 100}, 150, 100),
        (SizeRule.FILL, {"width_mm": 200, "height_mm": 200}, 200, 200),
    ],
)
def test_size_follows_its_rule(rule, lengths, width_mm, height_mm):
    size = picture_size(6000, 4000, spec(rule, **lengths))
    assert size.width_mm == pytest.approx(width_mm)
    assert size.height_mm == pytest.approx(height_mm)


def test_longest_edge_of_a_portrait_is_its_height():
    size = picture_size(4000, 6000, spec(SizeRule.LONGEST_EDGE, longest_mm=300))
    assert (size.width_mm, size.height_mm) == pytest.approx((200, 300))


def test_effective_ppi_counts_the_masters_own_pixels():
    size = picture_size(6000, 4000, spec(SizeRule.WIDTH, width_mm=508))
    assert size.effective_ppi == pytest.approx(300)


def test_fill_cuts_round_the_chosen_centre():
    centred = spec(SizeRule.FILL, width_mm=100, height_mm=100)
    assert picture_size(6000, 4000, centred).crop.left_px == pytest.approx(1000)
    at_left = spec(SizeRule.FILL, width_mm=100, height_mm=100, crop_centre_x_share=0.1)
    assert picture_size(6000, 4000, at_left).crop.left_px == 0


@given(
    st.integers(1, 20000),
    st.integers(1, 20000),
    st.floats(10, 5000),
    st.floats(10, 5000),
    st.floats(0, 1),
    st.floats(0, 1),
)
def test_fill_keeps_shape_and_stays_inside(width, height, area_w, area_h, x, y):
    filled = spec(
        SizeRule.FILL,
        width_mm=area_w,
        height_mm=area_h,
        crop_centre_x_share=x,
        crop_centre_y_share=y,
    )
    crop = picture_size(width, height, filled).crop
    assert crop.left_px >= 0
    assert crop.top_px >= 0
    assert crop.left_px + crop.width_px <= width * (1 + 1e-12)
    assert crop.top_px + crop.height_px <= height * (1 + 1e-12)
    # One of the two edges is kept whole, and pixels stay square on paper.
    whole = crop.width_px == pytest.approx(width) or crop.height_px == pytest.approx(
        height
    )
    assert whole
    assert area_w / crop.width_px == pytest.approx(area_h / crop.height_px)


@pytest.mark.parametrize(
    ("rule", "lengths", "remedy"),
    [
        (SizeRule.WIDTH, {}, "Add the width"),
        (SizeRule.WIDTH, {"height_mm": 3}, "Add the width"),
        (SizeRule.WIDTH, {"width_mm": 300, "height_mm": 3}, "Remove the height"),
        (SizeRule.WIDTH, {"width_mm": 0}, "from 5 to 60000 mm"),
        (SizeRule.WIDTH, {"width_mm": -300}, "from 5 to 60000 mm"),
        (SizeRule.WIDTH, {"width_mm": 1e9}, "from 5 to 60000 mm"),
        (SizeRule.WIDTH, {"width_mm": float("nan")}, "from 5 to 60000 mm"),
        (SizeRule.FILL, {"width_mm": 300}, "Add the height"),
    ],
)
def test_size_refuses_what_contradicts_itself(rule, lengths, remedy):
    with pytest.raises(SpecError, match=remedy):
        spec(rule, **lengths)


@pytest.mark.parametrize("ppi", [0, -300, 5000, float("inf")])
def test_size_refuses_absurd_resolution(ppi):
    with pytest.raises(SpecError, match="from 30 to 2400 ppi"):
        SizeSpec(rule=SizeRule.WIDTH, width_mm=300, ppi=ppi)


def test_size_refuses_a_master_without_pixels():
    with pytest.raises(SpecError, match="with pixels in it"):
        picture_size(0, 100, spec(SizeRule.WIDTH, width_mm=300))


def test_refused_length_is_told_in_both_units_if_people_measure_it():
    """What nobody has named a unit for; a radius of sharpening stays millimetres."""
    with pytest.raises(SpecError) as refused:
        SizeSpec(rule=SizeRule.WIDTH, width_mm=2.54, ppi=300)
    assert refused.value.problem == "Picture width is 2.54 mm (0.1 in)."
    # 5 / 25.4 and 60 000 / 25.4 in.
    assert refused.value.remedy == (
        "Give a value from 5 to 60000 mm (0.2 to 2362.2 in)."
    )
    with pytest.raises(SpecError, match=r"from 0\.01 to 5 mm\.$"):
        SharpenSpec(radius_mm=7)
