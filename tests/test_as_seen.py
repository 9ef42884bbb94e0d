"""The print as seen: contrast, brightness and size against closed forms."""

import numpy as np
import pytest
from scipy.special import ndtr

from printplan.colour.proof import device_to_light, device_to_screen
from printplan.colour.spaces import decode, encode
from printplan.errors import SpecError
from printplan.pixels.as_seen import as_seen, print_light
from printplan.pixels.sheet import Appearance, build_sheet
from printplan.sharpening.as_seen import EyeFilter, spread_on_paper
from printplan.sharpening.eye import eye_psf_sigma_arcmin, eye_psf_sigma_um
from printplan.sharpening.response import SpreadCurve
from printplan.sizing.boxes import Box
from printplan.spec import (
    Delivery,
    DeliverySpec,
    FileFormat,
    Intent,
    NamedSpace,
)

pytestmark = pytest.mark.slow

# A screen's pixel then averages exactly two print pixels.
PPI, PX_PER_MM, STEP = 254.0, 5.0, 2.0
SEEN = {"spread": 50.0, "distance_mm": 400.0, "screen_px_per_mm": PX_PER_MM}
PAPER = Appearance.PAPER_ALONE
# From 10 to 90 % a Gaussian edge takes twice the normal quantile of 0.9.
RISE_SIGMAS = 2 * 1.2815515655


def srgb_to_linear(codes):
    # IEC 61966-2-1:1999, 5.2.
    share = np.asarray(codes, np.float64) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


@pytest.fixture
def sheet_of(master_of, plan_for):
    """A print whose pixels are the master's own, of linear light given."""

    def make(light, **changes):
        codes = np.rint(encode(NamedSpace.ROMM_RGB, light) * 65535).astype(np.uint16)
        master = master_of(np.repeat(codes[..., None], 3, axis=-1))
        plan = plan_for(
            master,
            **{
                "paper": "Heron Baryta 315",
                "width_mm": light.shape[1] * 25.4 / PPI,
                "ppi": PPI,
            }
            | changes,
        )
        sheet = build_sheet(master, plan)
        assert plan.picture_in_file.width == light.shape[1]
        return sheet

    return make


def inner_box(sheet, edge=40):
    picture = sheet.plan.picture_in_file
    return picture.moved(edge, edge).common(
        Box(0, 0, picture.right - edge, picture.bottom - edge)
    )


# Gratings lean a little, so that rounding to 8-bit codes averages out.
DOWN_CYCLES_PX = 0.0213


def phase(shape, cycles_px, step=1.0):
    rows, columns = np.indices(shape)
    return 2 * np.pi * step * (cycles_px * columns + DOWN_CYCLES_PX * rows)


def contrast(light, cycles_px, step=1.0):
    """Amplitude over mean of a leaning grating, by least squares."""
    turns = phase(light.shape, cycles_px, step).ravel()
    waves = np.stack([np.ones_like(turns), np.cos(turns), np.sin(turns)], axis=1)
    mean, cosine, sine = np.linalg.lstsq(waves, light.ravel(), rcond=None)[0]
    return np.hypot(cosine, sine) / mean


def grating(cycles_px, shape=(200, 400)):
    return 0.3 + 0.2 * np.sin(phase(shape, cycles_px))


def gaussian_response(sigma_mm, cycles_px):
    """A Gaussian's transform, exp(-2 π² σ² f²)."""
    per_mm = np.hypot(cycles_px, DOWN_CYCLES_PX) * PPI / 25.4
    return np.exp(-2 * (np.pi * sigma_mm * per_mm) ** 2)


def pixel_response(cycles_px, step):
    """A square pixel's transform."""
    return np.sinc(cycles_px * step) * np.sinc(DOWN_CYCLES_PX * step)


def kept(sheet, cycles_px, **changes):
    """Share of a grating's contrast that is left on the screen."""
    box = inner_box(sheet)
    before = contrast(print_light(sheet, box, PAPER)[1], cycles_px)
    settings = SEEN | changes
    seen = as_seen(sheet, box, **settings)
    step = PPI / 25.4 / settings["screen_px_per_mm"]
    return contrast(srgb_to_linear(seen.pixels[..., 1]), cycles_px, step) / before


@pytest.mark.parametrize("px_per_mm", [5.0, 7.3, 12.0])
@pytest.mark.parametrize("cycles_px", [0.05, 0.1, 0.17])
def test_a_grating_loses_the_product_of_the_responses(sheet_of, cycles_px, px_per_mm):
    left = kept(sheet_of(grating(cycles_px)), cycles_px, screen_px_per_mm=px_per_mm)
    pixel = pixel_response(cycles_px, PPI / 25.4 / px_per_mm)
    assert left == pytest.approx(gaussian_response(0.05, cycles_px) * pixel, abs=0.002)


def test_the_eye_takes_its_own_share(sheet_of):
    sheet = sheet_of(grating(0.1))
    expected = gaussian_response(eye_psf_sigma_um(600, 141.65) / 1000, 0.1)
    left_to_viewer = kept(sheet, 0.1)
    computed = kept(
        sheet, 0.1, eye=EyeFilter.AT_DISTANCE, distance_mm=600, white_cd_m2=141.65
    )
    assert computed / left_to_viewer == pytest.approx(expected, abs=0.002)


def test_eye_blur_is_bartens():
    # Barten (1999), doi:10.1117/3.353254: pupil 5 - 3 tanh(0.4 log10(L X0² / 40²)) mm,
    # sigma² = 0.5² + (0.08 d)², in arcmin; from memory, and as colour-science has it.
    for luminance in (2.0, 26.1, 300.0):
        pupil_mm = 5 - 3 * np.tanh(0.4 * np.log10(luminance * 60**2 / 40**2))
        sigma = np.hypot(0.5, 0.08 * pupil_mm)
        assert eye_psf_sigma_arcmin(luminance) == pytest.approx(sigma, rel=1e-6)
    # L* 50 has 18.42 % of white's luminance (CIE L*).
    on_paper = 1000 * 400 * np.tan(np.radians(eye_psf_sigma_arcmin(18.42) / 60))
    assert eye_psf_sigma_um(400, 100) == pytest.approx(on_paper, rel=1e-4)


def test_eye_and_paper_join_as_gaussians_do(sheet_of, textured):
    sheet = sheet_of(textured[..., 0] / 65535)
    box = inner_box(sheet)
    computed = as_seen(sheet, box, **SEEN, eye=EyeFilter.AT_DISTANCE)
    joined = SEEN | {"spread": float(np.hypot(50, computed.eye_um))}
    assert (computed.pixels == as_seen(sheet, box, **joined).pixels).all()


def test_a_measured_response_is_followed(sheet_of):
    curve = SpreadCurve(cycles_per_mm=(0.5, 1.5, 4.0), values=(0.9, 0.7, 0.2))
    left = kept(sheet_of(grating(0.1)), 0.1, spread=curve)
    # From 0.5 to 1.5 cycles/mm by a straight line.
    response = 0.9 - 0.2 * (np.hypot(0.1, DOWN_CYCLES_PX) * PPI / 25.4 - 0.5)
    assert left == pytest.approx(response * pixel_response(0.1, STEP), abs=0.002)


def test_a_curve_that_is_a_gaussian_looks_like_that_gaussian(sheet_of, textured):
    frequency = np.linspace(0.05, 12, 240)
    values = np.exp(-2 * (np.pi * 0.05 * frequency) ** 2)
    curve = SpreadCurve(cycles_per_mm=tuple(frequency), values=tuple(values))
    sheet = sheet_of(textured[..., 0] / 65535)
    box = inner_box(sheet)
    one = as_seen(sheet, box, **SEEN).pixels.astype(int)
    other = as_seen(sheet, box, **(SEEN | {"spread": curve})).pixels.astype(int)
    assert np.abs(one - other).max() <= 1


@pytest.mark.parametrize("light", [0.02, 0.18, 0.9])
def test_an_even_tone_stays(sheet_of, light):
    sheet = sheet_of(np.full((120, 200), light))
    box = inner_box(sheet)
    seen = as_seen(sheet, box, **SEEN, eye=EyeFilter.AT_DISTANCE)
    proof = sheet.proof_window(box, PAPER)[0, 0].astype(int)
    assert np.ptp(seen.pixels.reshape(-1, 3), axis=0).max() <= 1
    assert np.abs(seen.pixels[0, 0] - proof).max() <= 1


def test_mean_light_stays(sheet_of):
    """Paper, eye and screen move light about; they take none away."""
    rng = np.random.default_rng(5)
    # A slope, on which rounding to codes averages out.
    light = np.broadcast_to(np.linspace(0.15, 0.25, 320), (240, 320)).copy()
    light[90:150, 90:230] = rng.uniform(0.02, 0.6, (60, 140))
    sheet = sheet_of(light)
    box = inner_box(sheet)
    seen = as_seen(sheet, box, **SEEN)
    expected = print_light(sheet, box, PAPER).mean(axis=(1, 2))
    shown = srgb_to_linear(seen.pixels).mean(axis=(0, 1))
    assert shown == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("sigma_um", [30.0, 80.0, 150.0])
def test_an_edge_becomes_as_wide_as_the_gaussians_together(sheet_of, sigma_um):
    edge_sigma_px = 1.0
    rows, columns = np.indices((200, 300))
    # Hardly tilted: each row is rounded to codes at other places of the edge.
    step = ndtr((columns - 150 - 0.017 * (rows - 100)) / edge_sigma_px)
    sheet = sheet_of(0.1 + 0.5 * step)
    density = 50.0
    seen = as_seen(
        sheet,
        inner_box(sheet, 80),
        **(SEEN | {"spread": sigma_um, "screen_px_per_mm": density}),
    )
    shown = srgb_to_linear(seen.pixels[..., 1])
    dark, light = shown[:, :50].mean(), shown[:, -50:].mean()
    shares = (shown - dark) / (light - dark)
    places = [np.interp([0.1, 0.9], row, np.arange(row.size)) for row in shares]
    low, high = np.mean(places, axis=0)
    # The screen's own pixel, a box of 20 µm, adds its variance: width² / 12.
    parts_um = [sigma_um, 100 * edge_sigma_px, 1000 / density / np.sqrt(12)]
    expected_um = RISE_SIGMAS * np.linalg.norm(parts_um)
    assert 1000 * (high - low) / density == pytest.approx(expected_um, rel=0.01)


def test_the_way_to_the_screen_adds_no_halo(sheet_of):
    """A halo in the picture is one of the print: a step stays within its tones."""
    light = np.full((200, 300), 0.1)
    light[:, 150:] = 0.5
    sheet = sheet_of(light)
    seen = as_seen(sheet, inner_box(sheet), **SEEN).pixels.astype(int)
    middle = seen[seen.shape[0] // 2]
    assert (middle >= middle[5] - 1).all()
    assert (middle <= middle[-5] + 1).all()


def test_size_is_true(sheet_of, textured):
    sheet = sheet_of(textured[..., 0] / 65535)
    picture = sheet.plan.picture_in_file
    box = Box(picture.left + 7, picture.top + 9, 254, 127)
    seen = as_seen(sheet, box, **(SEEN | {"screen_px_per_mm": 6.3}))
    # 254 px at 254 ppi are an inch.
    assert (seen.width_mm, seen.height_mm) == pytest.approx((25.4, 12.7))
    assert seen.pixels.shape == (round(12.7 * 6.3), round(25.4 * 6.3), 3)
    assert seen.print_px_per_screen_px == pytest.approx(10 / 6.3)
    assert "25.4 × 12.7 mm" in seen.words


@pytest.mark.parametrize("spread", [60.0, 0.0])
def test_the_picture_does_not_depend_on_the_cut(sheet_of, textured, spread):
    sheet = sheet_of(textured[..., 0] / 65535, gain=1.0)
    picture = sheet.plan.picture_in_file
    settings = SEEN | {"spread": spread}
    one = as_seen(sheet, Box(picture.left, picture.top, 200, 120), **settings)
    other = as_seen(
        sheet, Box(picture.left + 40, picture.top + 20, 160, 100), **settings
    )
    assert (one.pixels[10:, 20:] == other.pixels).all()


def test_a_window_in_the_corner_of_the_file_is_shown(sheet_of, textured):
    sheet = sheet_of(textured[..., 0] / 65535)
    right, bottom = sheet.size_px
    for box in (Box(0, 0, 80, 60), Box(right - 80, bottom - 60, 80, 60)):
        pixels = as_seen(sheet, box, **SEEN).pixels
        # Bare paper is the screen's white.
        assert (pixels == 255).all()


@pytest.mark.parametrize(
    "delivery",
    [
        DeliverySpec(colour=Delivery.WORKING_COLOUR),
        DeliverySpec(
            colour=Delivery.NAMED_SPACE,
            named_space=NamedSpace.SRGB,
            file_format=FileFormat.TIFF_8,
        ),
    ],
    ids=["working", "srgb-8"],
)
def test_a_file_in_other_colours_is_seen_as_its_print(sheet_of, textured, delivery):
    light = textured[..., 0] / 65535
    box = Box(60, 60, 200, 100)
    own, handed_on = sheet_of(light), sheet_of(light, delivery=delivery)
    box = box.moved(own.plan.picture_in_file.left, own.plan.picture_in_file.top)
    shown = [
        as_seen(sheet, box, **SEEN).pixels.astype(int) for sheet in (own, handed_on)
    ]
    # Dither to 8 bits and back: two codes.
    assert np.abs(shown[0] - shown[1]).max() <= 2


@pytest.mark.slow
@pytest.mark.parametrize("intent", [Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE])
def test_light_is_what_the_proof_encodes(paper_profiles, fogra39, intent):
    rng = np.random.default_rng(2)
    for profile in (*paper_profiles.values(), fogra39):
        device = rng.integers(0, 65536, (31, 40, profile.channels), dtype=np.uint16)
        light = device_to_light(profile, intent).from_device(device)
        assert light.shape == (3, 31, 40)
        codes = encode(NamedSpace.SRGB, np.clip(light, 0, 1).astype(np.float64)) * 255
        shown = device_to_screen(profile, intent).from_device(device)
        assert np.abs(np.moveaxis(codes, 0, -1) - shown).max() <= 0.75


def test_light_outside_srgb_is_kept(paper_profiles):
    """What a screen cannot show still spreads in paper: it is clipped last."""
    device = np.array([[[0, 65535, 65535], [65535, 65535, 65535]]], np.uint16)
    light = device_to_light(
        paper_profiles["Heron Baryta 315"], Intent.MEDIA_RELATIVE
    ).from_device(device)
    assert light.min() < -0.01
    assert light[:, 0, 1] == pytest.approx(1, abs=1e-3)


def test_spread_is_alike_in_all_directions():
    rows, columns = np.indices((96, 96))
    left = []
    for turn in (0.0, 0.4, np.pi / 4):
        along = columns * np.cos(turn) + rows * np.sin(turn)
        wave = (1 + np.cos(2 * np.pi * 0.11 * along)).astype(np.float32)
        spread = spread_on_paper(wave, 60.0, 254.0)[24:72, 24:72]
        left.append(np.ptp(spread) / 2)
    expected = np.exp(-2 * (np.pi * 0.6 * 0.11) ** 2)
    assert left == pytest.approx([expected] * 3, abs=0.01)


def test_decode_of_the_test_is_the_standard():
    codes = np.arange(256)
    assert srgb_to_linear(codes) == pytest.approx(decode(NamedSpace.SRGB, codes / 255))


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"distance_mm": 0.0}, "50 to 50000 mm"),
        ({"distance_mm": float("nan")}, "50 to 50000 mm"),
        ({"spread": 5000.0}, "0 to 500 µm"),
        ({"spread": -1.0}, "0 to 500 µm"),
        ({"screen_px_per_mm": 0.3}, "1 to 2000 px"),
        ({"screen_px_per_mm": 5000.0}, "1 to 2000 px"),
        ({"white_cd_m2": 0.0}, "1 to 10000 cd"),
    ],
)
def test_a_number_out_of_range_is_refused(sheet_of, changes, remedy):
    sheet = sheet_of(np.full((120, 200), 0.2))
    with pytest.raises(SpecError, match=remedy):
        as_seen(sheet, inner_box(sheet), **(SEEN | changes))


def test_a_window_of_the_wrong_size_is_refused(sheet_of):
    sheet = sheet_of(np.full((400, 400), 0.2))
    corner = (sheet.plan.picture_in_file.left, sheet.plan.picture_in_file.top)
    with pytest.raises(SpecError, match="16 × 16 print pixels or more"):
        as_seen(sheet, Box(*corner, 15, 14), **SEEN)
    assert as_seen(sheet, Box(*corner, 16, 16), **SEEN).pixels.shape == (8, 8, 3)
    with pytest.raises(SpecError, match="900 × 600"):
        as_seen(sheet, Box(*corner, 400, 400), **(SEEN | {"screen_px_per_mm": 200.0}))
    with pytest.raises(SpecError, match="inside the file"):
        as_seen(sheet, Box(-5, 0, 100, 100), **SEEN)


def test_words_say_who_blurs_and_what_the_screen_hides(sheet_of):
    sheet = sheet_of(np.full((200, 300), 0.2))
    box = inner_box(sheet)
    own = as_seen(sheet, box, **SEEN)
    assert "left to yours" in own.words
    # A screen of 5 px/mm ends at 2.5 cycles/mm, 254 ppi at 5.
    assert "ends at 2.5 cycles/mm" in own.words
    # tan(1/60°) × 400 mm is 0.1164 mm; a pixel of 0.2 mm takes 1.72 of it.
    assert own.screen_px_arcmin == pytest.approx(1.719, abs=0.001)
    computed = as_seen(sheet, box, **SEEN, eye=EyeFilter.AT_DISTANCE)
    assert "as by an eye at 400 mm" in computed.words
    dense = as_seen(sheet, box, **(SEEN | {"screen_px_per_mm": 20.0}))
    assert "ends at" not in dense.words
