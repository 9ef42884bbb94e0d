"""The sharpening that a print needs follows its paper, its viewer and its content."""

from dataclasses import replace

import numpy as np
import pytest
import tifffile
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import ndimage
from scipy.special import ndtr

from printplan.colour.spaces import named_profile
from printplan.errors import SpecError
from printplan.pixels.master import open_master
from printplan.pixels.picture_content import (
    FEWEST_EDGES,
    SAMPLE_PIXELS,
    content_key,
    content_parts,
    picture_content,
)
from printplan.pixels.sharpening import (
    ASSUMED_SOFTNESS_PX,
    chosen_sharpening,
    paper_white_cd_m2,
    predicted_effect,
)
from printplan.pixels.sharpening_spec import (
    file_halo_limit,
    usual_distance_mm,
    usual_restore,
    wished_limits,
)
from printplan.pixels.sheet import build_sheet, varied
from printplan.record.plan_file import parse_plan_text, plan_file_text, read_plan_file
from printplan.sharpening.content import ContentFacts, measure_content
from printplan.sharpening.limits import DecidingBound, SharpenLimits
from printplan.sharpening.unsharp import sharpen_lightness
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace, RoomSpec
from printplan.units import px_from_mm


def facts(**changed):
    """A picture of sharp edges and little noise."""
    usual = {
        "master_edge_sigma_px": 0.6,
        "edge_sigma_px": 0.7,
        "edge_count": 500,
        "overshoot_share": 0.02,
        "already_sharpened": False,
        "noise_l": 0.3,
        "noise_by_tone": (),
        "smooth_share": 0.3,
        "texture_share": 0.3,
        "words": "Edges beside smooth areas.",
    }
    return ContentFacts(**(usual | changed))


@pytest.fixture(scope="module")
def plan(tmp_path_factory, plan_for, textured):
    """A print of one pixel for each of the master's."""
    path = tmp_path_factory.mktemp("sharpening") / "master.tif"
    profile = named_profile(NamedSpace.ROMM_RGB).data
    tifffile.imwrite(
        path, textured, photometric="rgb", iccprofile=profile, metadata=None
    )
    with open_master(path) as master:
        return plan_for(master, width_mm=320 / 300 * 25.4)


@pytest.fixture
def sheet_of(master_of, plan_for):
    """A print without resampling of a picture given in L*."""

    def make(lightness):
        return enlarged(master_of(codes_of(lightness)), plan_for, 1.0)

    return make


def codes_of(lightness):
    """Grey of a given L* in ROMM RGB."""
    light = np.where(
        lightness > 8, ((lightness + 16) / 116) ** 3, lightness * (3 / 29) ** 3
    )
    # ISO 22028-2: the curve of ROMM RGB above 1/512.
    codes = np.rint(np.maximum(light, 1 / 512) ** (1 / 1.8) * 65535)
    return np.repeat(codes.astype(np.uint16)[..., None], 3, axis=2)


def enlarged(master, plan_for, enlargement):
    width_mm = enlargement * master.facts.width_px / 300 * 25.4
    return build_sheet(master, plan_for(master, width_mm=width_mm))


def portrait(rows=900, columns=1300, edge_sigma_px=1.1, noise_l=0.5):
    """Large soft shapes with a few slanted edges: nearly all of it is smooth."""
    rng = np.random.default_rng(2)
    down, across = np.mgrid[:rows, :columns].astype(np.float64)
    shade = 50 + 12 * np.sin(down / 170) * np.cos(across / 230)
    for place in (0.25, 0.5, 0.75):
        distance = (across - columns * place) * np.cos(0.12) + down * np.sin(0.12) - 60
        shade += 12 * ndtr(distance / edge_sigma_px) - 6
    return np.clip(shade + rng.normal(0, noise_l, shade.shape), 5, 95)


def foliage(rows=900, columns=1300):
    """Leaves all over: thousands of small sharp shapes."""
    rng = np.random.default_rng(3)
    blades = ndimage.gaussian_filter(rng.normal(0, 1, (rows, columns)), (6, 2))
    shade = 45 + 25 * np.tanh(6 * blades / blades.std())
    return np.clip(ndimage.gaussian_filter(shade, 0.6), 5, 95)


# What paper, viewer and wish change


def test_a_softer_paper_gets_more_sharpening(plan):
    def gain_and_loss(psf_sigma_um):
        softer = replace(plan, paper=replace(plan.paper, psf_sigma_um=psf_sigma_um))
        choice = chosen_sharpening(softer, facts(), distance_mm=400).choice
        return choice.gain * choice.radius_px, choice.acutance_before

    crisp, soft = gain_and_loss(20), gain_and_loss(50)
    assert soft[1] < crisp[1]
    assert soft[0] > 1.1 * crisp[0]


def test_a_nearer_viewer_gets_more_sharpening(plan):
    near, far, farthest = (
        chosen_sharpening(plan, facts(), distance_mm=distance).choice.gain
        for distance in (300, 1500, 8000)
    )
    assert near > far > farthest


def test_more_restore_gives_more_and_none_gives_none(plan):
    gains = [
        chosen_sharpening(plan, facts(), distance_mm=400, restore=restore).spec.gain
        for restore in (0.0, 0.5, 1.0)
    ]
    assert gains[0] == 0.0
    assert gains[1] == pytest.approx(gains[2] / 2)
    nothing = chosen_sharpening(plan, facts(), distance_mm=400, restore=0).spec
    assert nothing.halo_limit_share is None


def test_a_lower_halo_limit_is_kept_in_the_print(plan):
    choice = chosen_sharpening(
        plan, facts(), distance_mm=300, limits=SharpenLimits(halo_limit=0.03)
    ).choice
    assert choice.overshoot_in_print <= 0.03 + 1e-6
    assert choice.deciding_bound is DecidingBound.HALO_LIMIT


def test_the_room_of_the_plan_lights_the_print(plan):
    """E ρ / π of a matte paper of some 89 %: 80 lx give about 22 cd/m² (ISO 3664)."""
    dim = replace(plan, spec=replace(plan.spec, room=RoomSpec(illuminance_lx=80)))
    assert paper_white_cd_m2(plan) == pytest.approx(141.65, abs=0.01)
    assert paper_white_cd_m2(dim) == pytest.approx(22.7, rel=0.05)
    light = chosen_sharpening(plan, facts(noise_l=2), distance_mm=400).choice
    dark = chosen_sharpening(dim, facts(noise_l=2), distance_mm=400).choice
    # Barten (1999): sensitivity falls with luminance, so the same noise shows less.
    assert dark.visible_noise_before < light.visible_noise_before


# What the content changes


@pytest.mark.slow
def test_portrait_and_foliage_come_out_differently_and_say_why(sheet_of):
    smooth, leaves = sheet_of(portrait()), sheet_of(foliage())
    advice = {}
    for name, sheet in (("smooth", smooth), ("leaves", leaves)):
        content = picture_content(sheet)
        advice[name] = chosen_sharpening(sheet.plan, content, distance_mm=400)
    assert "Mostly smooth" in advice["smooth"].reason
    assert "texture nearly everywhere" in advice["leaves"].reason
    assert "noise of 0.5" in advice["smooth"].reason
    first, second = advice["smooth"].choice, advice["leaves"].choice
    # Edges of 1.1 px ask for a wider mask than leaves of some 0.6.
    assert first.radius_px > 1.1 * second.radius_px
    assert first.deciding_bound is not second.deciding_bound


@pytest.mark.slow
def test_the_demo_photographs_are_told_apart(plan_for, studio):
    """Seed heads stand before a blurred ground; the stream is leaves and water."""
    kinds = {}
    for path in (studio.scenario.seed_heads, studio.scenario.stream):
        with open_master(path) as master:
            sheet = build_sheet(master, plan_for(master, width_mm=120.0))
            content = picture_content(sheet)
            kinds[path.stem] = chosen_sharpening(
                sheet.plan, content, distance_mm=400
            ).reason
    assert "Smooth areas" in kinds["seed-heads"]
    assert "texture nearly everywhere" in kinds["stream"]


def test_noise_that_would_show_holds_the_gain(plan):
    quiet = chosen_sharpening(
        plan, facts(master_edge_sigma_px=1.6, noise_l=0.2), distance_mm=400
    )
    noisy = chosen_sharpening(
        plan, facts(master_edge_sigma_px=1.6, noise_l=2.5), distance_mm=400
    )
    assert noisy.choice.gain < quiet.choice.gain
    assert noisy.choice.deciding_bound is DecidingBound.NOISE
    assert "held the gain" in noisy.reason
    assert "held the gain" not in quiet.reason


def test_a_master_that_was_sharpened_before_gets_less_and_says_so(plan):
    plain = chosen_sharpening(plan, facts(), distance_mm=400)
    gains = [plain.spec.gain]
    for overshoot in (0.08, 0.12, 0.3):
        sharpened = facts(overshoot_share=overshoot, already_sharpened=True)
        advice = chosen_sharpening(plan, sharpened, distance_mm=400)
        assert "sharpened before" in advice.reason
        assert "own sharpening decided" in advice.choice.why
        assert advice.spec.restore == 1.0
        gains.append(advice.spec.gain)
    assert gains == sorted(gains, reverse=True)
    assert len(set(gains)) == 4
    assert gains[-1] == 0.0


def test_a_picture_without_edges_states_its_assumption(plan):
    advice = chosen_sharpening(plan, facts(master_edge_sigma_px=None), distance_mm=400)
    assert advice.sigma_is_assumed
    assumed = ASSUMED_SOFTNESS_PX * max(plan.enlargement, 1)
    assert advice.edge_sigma_px == pytest.approx(assumed)
    assert f"{assumed:.2f} print pixels is assumed" in advice.reason
    assert "assumed" not in chosen_sharpening(plan, facts(), distance_mm=400).reason


def test_an_unmeasured_paper_says_that_its_spread_is_estimated(plan):
    advice = chosen_sharpening(plan, facts(), distance_mm=400)
    assert "estimate, not measured" in advice.spread.words


# What the stage is told


@pytest.mark.slow
@settings(deadline=None, max_examples=60)
@given(
    psf_sigma_um=st.floats(10, 60),
    edge_sigma_px=st.floats(0.4, 2.0),
    distance_mm=st.floats(250, 1500),
    halo_limit=st.floats(0.04, 0.3),
)
def test_the_stage_sharpens_the_pictures_edges_as_predicted(
    plan, psf_sigma_um, edge_sigma_px, distance_mm, halo_limit
):
    """The limit in the file spares the edges that were reckoned with."""
    soft_paper = replace(plan, paper=replace(plan.paper, psf_sigma_um=psf_sigma_um))
    advice = chosen_sharpening(
        soft_paper,
        facts(master_edge_sigma_px=edge_sigma_px),
        distance_mm=distance_mm,
        limits=SharpenLimits(halo_limit=halo_limit),
    )
    if advice.spec.gain == 0:
        return
    edge = 40 + 20 * ndtr(np.arange(-40, 41) / edge_sigma_px)
    radius_px = px_from_mm(advice.spec.radius_mm, 300)
    with_limit = sharpened(edge, advice.spec, radius_px)
    without = sharpened(edge, replace(advice.spec, halo_limit_share=None), radius_px)
    # A five-hundredth of the step: a tenth of what is seen as a halo's edge.
    assert np.abs(with_limit - without).max() < 20 / 500


def test_the_stage_holds_a_stray_pixel(plan):
    advice = chosen_sharpening(
        plan, facts(), distance_mm=300, limits=SharpenLimits(halo_limit=0.03)
    )
    tones = np.full(41, 50.0)
    tones[20] = 60.0
    radius_px = px_from_mm(advice.spec.radius_mm, 300)
    held = sharpened(tones, advice.spec, radius_px)[20]
    loose = sharpened(tones, replace(advice.spec, halo_limit_share=None), radius_px)[20]
    assert held < loose - 1
    assert held == pytest.approx(60 + 10 * advice.spec.halo_limit_share, abs=0.02)


def sharpened(tones, spec, radius_px):
    """Rows of L* after the stage, read back from its light."""
    light = np.repeat(((tones + 16) / 116)[None, None, :] ** 3, 9, axis=1)
    after = sharpen_lightness(light.astype(np.float32), np.ones(1), spec, radius_px)
    return 116 * np.cbrt(after[0, 4].astype(np.float64)) - 16


def test_where_paper_leaves_no_halo_the_file_limit_ends(plan):
    choice = chosen_sharpening(plan, facts(), distance_mm=400).choice
    lost = replace(choice, overshoot_in_file=0.4, overshoot_in_print=0.0)
    # A `SharpenSpec` takes at most 2.
    assert file_halo_limit(lost, 0.12) == 2.0
    assert file_halo_limit(replace(choice, gain=0.0), 0.12) is None


def test_a_plan_file_remembers_the_wish(plan, studio):
    limits = SharpenLimits(halo_limit=0.085, grain_floor_l=0.45)
    advice = chosen_sharpening(
        plan, facts(), distance_mm=730, restore=0.85, limits=limits
    )
    kept = read_plan_file(studio.plan_path)
    kept = replace(kept, spec=replace(kept.spec, sharpen=advice.spec))
    read = parse_plan_text(plan_file_text(kept), where="plan.toml").spec.sharpen
    assert read == advice.spec
    assert (read.restore, read.distance_mm) == (0.85, 730)
    assert wished_limits(read) == limits


def test_prediction_of_a_plan_by_hand_is_that_of_the_choice(plan):
    advice = chosen_sharpening(plan, facts(), distance_mm=400)
    by_hand = replace(
        plan,
        spec=replace(plan.spec, sharpen=advice.spec),
        radius_px=px_from_mm(advice.spec.radius_mm, plan.ppi),
    )
    effect = predicted_effect(by_hand, facts(), distance_mm=400)
    assert effect.acutance_after == pytest.approx(advice.choice.acutance_after)
    assert effect.overshoot_in_print == pytest.approx(advice.choice.overshoot_in_print)


def test_the_usual_distance_is_the_diagonal(plan):
    size = plan.picture_size
    assert usual_distance_mm(plan) == 250.0
    large = replace(plan, picture_size=replace(size, width_mm=400.0, height_mm=300.0))
    # 3-4-5: the diagonal of 300 × 400 mm is 500.
    assert usual_distance_mm(large) == 500.0
    assert usual_restore(plan) == 1.0


# What is measured


@pytest.mark.slow
def test_content_is_that_of_the_prints_own_pixels(sheet_of):
    lightness = portrait(500, 700)
    sheet = sheet_of(lightness)
    by_sheet = picture_content(sheet)
    directly = measure_content(lightness.astype(np.float32))
    # The master holds 16 bits; nothing is resampled.
    assert by_sheet.noise_l == pytest.approx(directly.noise_l, rel=0.01)
    assert by_sheet.master_edge_sigma_px == pytest.approx(
        directly.master_edge_sigma_px, abs=0.02
    )


def test_content_is_that_of_the_lightened_picture(sheet_of):
    """The sharpening meets the picture after it was lightened for its room.

    A rise of k at L* 50 multiplies steps at L* x by 1 + 4 k/100 (1 - 2 x/100).
    """
    rng = np.random.default_rng(8)
    noise_l, tone_l, rise_l = 1.0, 30.0, 15.0
    sheet = sheet_of(tone_l + rng.normal(0, noise_l, (400, 400)))
    spec = sheet.plan.spec
    lighter = varied(
        sheet, replace(spec, colour=replace(spec.colour, lighten_l=rise_l))
    )
    steeper = 1 + 4 * rise_l / 100 * (1 - 2 * tone_l / 100)
    assert content_key(lighter.plan) != content_key(sheet.plan)
    # The squares of one draw: a few hundredths of scatter, the same in both.
    assert picture_content(sheet).noise_l == pytest.approx(noise_l, rel=0.1)
    assert picture_content(lighter).noise_l == pytest.approx(
        steeper * picture_content(sheet).noise_l, rel=0.01
    )


@pytest.mark.slow
def test_parts_stand_for_a_large_picture(sheet_of, monkeypatch, nothing_kept):
    """The same picture, whole and by half of it."""
    sheet = sheet_of(portrait(2250, 2250))
    whole = picture_content(sheet)
    monkeypatch.setattr("printplan.pixels.picture_content.WHOLE_PIXELS", 1)
    nothing_kept()
    monkeypatch.setattr(
        "printplan.pixels.picture_content.SAMPLE_PIXELS", 2250 * 2250 // 2
    )
    part = picture_content(sheet)
    assert part.smooth_share == pytest.approx(whole.smooth_share, abs=0.05)
    assert part.noise_l == pytest.approx(whole.noise_l, rel=0.05)
    assert part.master_edge_sigma_px == pytest.approx(
        whole.master_edge_sigma_px, rel=0.05
    )
    assert part.already_sharpened == whole.already_sharpened
    assert part.words.startswith("Mostly smooth")
    assert "parts, 5" in part.words
    assert "parts" not in whole.words
    assert picture_content(sheet) == part


@pytest.mark.slow
def test_few_edges_in_parts_say_nothing_of_the_picture(
    sheet_of, monkeypatch, nothing_kept
):
    """One short edge of 80 pixels in nine areas: caught by chance or not at all."""
    rng = np.random.default_rng(5)
    soft = np.full((2304, 2304), 50.0) + rng.normal(0, 0.3, (2304, 2304))
    across = np.arange(768)[np.newaxis] + 0.15 * np.arange(80)[:, np.newaxis]
    soft[300:380, :768] += 20 * ndtr((across - 380) / 0.8)
    sheet = sheet_of(np.clip(soft, 5, 95))
    whole = picture_content(sheet)
    assert 30 <= whole.edge_count < FEWEST_EDGES
    assert whole.master_edge_sigma_px == pytest.approx(0.8, rel=0.15)
    monkeypatch.setattr("printplan.pixels.picture_content.WHOLE_PIXELS", 1)
    nothing_kept()
    monkeypatch.setattr("printplan.pixels.picture_content.SAMPLE_PIXELS", 4_000_000)
    part = picture_content(sheet)
    assert (part.master_edge_sigma_px, part.edge_sigma_px) == (None, None)
    assert not part.already_sharpened


@pytest.mark.slow
def test_borders_of_parts_are_no_edges(sheet_of):
    """Areas of one tone each, cut where the parts are."""
    rng = np.random.default_rng(5)
    tones = np.kron(
        np.array([[20.0, 80, 35], [65, 30, 90], [45, 75, 25]]), np.ones((768, 768))
    )
    soft = ndimage.gaussian_filter(tones, 30) + rng.normal(0, 0.3, tones.shape)
    content = picture_content(sheet_of(np.clip(soft, 5, 95)))
    assert content.master_edge_sigma_px is None
    assert content.smooth_share > 0.95


@pytest.mark.slow
def test_an_enlarged_print_is_measured_in_its_masters_pixels(master_of, plan_for):
    """Its softness in print pixels is the master's, times the enlargement."""
    lightness = portrait(600, 800, edge_sigma_px=0.9, noise_l=0.5)
    found = {}
    for enlargement in (1.0, 3.0):
        sheet = enlarged(master_of(codes_of(lightness)), plan_for, enlargement)
        assert sheet.plan.enlargement == pytest.approx(enlargement, rel=0.01)
        found[enlargement] = picture_content(sheet)
    same, larger = found[1.0], found[3.0]
    assert same.master_edge_sigma_px == pytest.approx(0.9, rel=0.1)
    assert larger.master_edge_sigma_px == pytest.approx(3 * same.master_edge_sigma_px)
    assert larger.edge_count == same.edge_count
    # Resampling keeps most of the noise's height, and Lanczos' kernel hardly blurs.
    assert 0.7 * same.noise_l < larger.noise_l < same.noise_l
    assert larger.edge_sigma_px == pytest.approx(larger.master_edge_sigma_px, rel=0.1)


@pytest.mark.slow
def test_a_master_too_small_to_measure_is_measured_in_print_pixels(master_of, plan_for):
    sheet = enlarged(
        master_of(codes_of(portrait(120, 400, noise_l=0.2))), plan_for, 2.0
    )
    assert picture_content(sheet).noise_l == pytest.approx(0.2, rel=0.3)


@given(width=st.integers(128, 30_000), height=st.integers(128, 30_000))
def test_parts_are_inside_and_apart_and_enough(width, height):
    picture = Box(0, 0, width, height)
    boxes = content_parts(picture, SAMPLE_PIXELS)
    assert all(picture.common(box) == box for box in boxes)
    assert all(min(box.width, box.height) >= min(width, height, 128) for box in boxes)
    corners = {(box.left, box.top) for box in boxes}
    assert len(corners) == len(boxes)
    for place, box in enumerate(boxes[:20]):
        assert all(box.common(other) is None for other in boxes[place + 1 :])
    seen = sum(box.width * box.height for box in boxes)
    if width * height <= SAMPLE_PIXELS:
        assert seen == width * height
    else:
        # Rows of parts take one more or one less than their even share.
        assert seen == pytest.approx(SAMPLE_PIXELS, rel=0.25)


@example(width=6000, height=8793)  # the worst
@given(width=st.integers(6000, 20_000), height=st.integers(4500, 20_000))
def test_parts_are_spread_over_the_picture(width, height):
    """Their common middle is near the picture's, and each third has its share."""
    boxes = content_parts(Box(0, 0, width, height), SAMPLE_PIXELS)
    across = np.array([(box.left + box.width / 2) / width for box in boxes])
    down = np.array([(box.top + box.height / 2) / height for box in boxes])
    for place in (across, down):
        thirds = np.bincount((place * 3).astype(int), minlength=3) / place.size
        assert place.mean() == pytest.approx(0.5, abs=0.08)
        # Of 8 columns a third may hold 2, and of 22 parts these may hold 4: less than
        # 1/3 by 0.1515, the most of all numbers of rows and columns in this range.
        assert thirds == pytest.approx([1 / 3] * 3, abs=1 / 3 - 4 / 22 + 1e-9)


def test_content_is_kept_while_size_and_crop_are_the_same(sheet_of):
    sheet = sheet_of(portrait(300, 400))
    spec = sheet.plan.spec
    key = content_key(sheet.plan)
    sharper = varied(sheet, replace(spec, sharpen=replace(spec.sharpen, gain=2.0)))
    assert content_key(sharper.plan) == key
    larger = varied(sheet, replace(spec, size=replace(spec.size, width_mm=60.0)))
    assert content_key(larger.plan) != key


# What is refused


def test_absurd_wishes_are_refused_with_a_remedy(plan):
    with pytest.raises(SpecError, match="Viewing distance is 0") as error:
        chosen_sharpening(plan, facts(), distance_mm=0)
    assert "from 50" in error.value.remedy
    with pytest.raises(SpecError, match="Restore is 3"):
        chosen_sharpening(plan, facts(), distance_mm=400, restore=3)
    sharpened = facts(overshoot_share=0.3, already_sharpened=True)
    with pytest.raises(SpecError, match="Restore is 3"):
        chosen_sharpening(plan, sharpened, distance_mm=400, restore=3)
    with pytest.raises(SpecError, match="least radius is 16"):
        chosen_sharpening(
            replace(
                plan, spec=replace(plan.spec, size=replace(plan.spec.size, ppi=72))
            ),
            facts(),
            distance_mm=400,
            limits=SharpenLimits(least_radius_px=16),
        )
    with pytest.raises(SpecError, match="Paper spread is 900"):
        chosen_sharpening(
            replace(plan, paper=_unchecked(plan.paper, psf_sigma_um=900.0)),
            facts(),
            distance_mm=400,
        )
    with pytest.raises(SpecError, match="Halo limit is 0"):
        SharpenLimits(halo_limit=0)


def _unchecked(paper, *, psf_sigma_um):
    """A paper past its own check, as a hand-made value could be."""
    copy = replace(paper)
    object.__setattr__(copy, "psf_sigma_um", psf_sigma_um)
    return copy


def test_a_picture_that_cannot_be_measured_says_what_to_do(sheet_of):
    with pytest.raises(SpecError, match="to measure has the shape") as error:
        picture_content(sheet_of(portrait(100, 300)))
    assert "128 px" in error.value.remedy
    with pytest.raises(SpecError, match="clipped"):
        picture_content(sheet_of(np.full((300, 300), 100.0)))
