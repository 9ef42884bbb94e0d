"""The engine beside a float64 reference with exact colour transforms."""

import colour
import numpy as np
import pytest
from float64_path import lightness, luminance
from PIL import Image
from scipy import ndimage
from test_transforms import transicc

from printplan.colour.conversion import inverse_curves_step
from printplan.colour.conversion_steps import Conversion
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import device_to_lab
from printplan.pixels.master import open_master
from printplan.pixels.resampled_light import ResampledLight
from printplan.pixels.sheet import build_sheet
from printplan.sizing.boxes import Box
from printplan.sizing.print_size import Crop
from printplan.sizing.resampling import resample_plane
from printplan.spec import NamedSpace


def lanczos_matrix(length_in, start, stop, length_out):
    """Weights of Lanczos-3, written from its definition, in float64.

    Duchon (1979), J. Appl. Meteorol. 18(8), 1016-1022: sinc(x) sinc(x/3), widened
    by the scale when reducing, each row normalised to 1.
    """
    scale = (stop - start) / length_out
    wide = max(scale, 1.0)
    centres = start + (np.arange(length_out) + 0.5) * scale
    distance = (np.arange(length_in) + 0.5 - centres[:, None]) / wide
    weights = np.sinc(distance) * np.sinc(distance / 3) * (np.abs(distance) < 3)
    return weights / weights.sum(axis=1, keepdims=True)


def srgb_to_linear(code):
    # IEC 61966-2-1:1999, 5.2.
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


@pytest.fixture(scope="module")
def photograph(photographs, tmp_path_factory):
    """A part of the red bowl, tagged: saturated colour, texture and deep shadow."""
    path = tmp_path_factory.mktemp("engine") / "bowl.png"
    with Image.open(photographs / "red-bowl.jpg") as whole:
        part = whole.crop((300, 60, 1500, 860))
    part.save(path, icc_profile=named_profile(NamedSpace.SRGB).data)
    return path


@pytest.mark.slow
@pytest.mark.tools("transicc")
@pytest.mark.parametrize("width_mm", [70, 130], ids=["reduced", "enlarged"])
def test_engine_matches_float64_reference(photograph, plan_for, width_mm, tmp_path):
    with open_master(photograph) as master:
        plan = plan_for(master, paper="Fen Cotton 310", width_mm=width_mm, gain=1.0)
        sheet = build_sheet(master, plan)
        picture = plan.picture_in_file
        device = sheet.window(picture)
        codes = np.asarray(Image.open(photograph), np.float64) / 255
    linear = srgb_to_linear(codes)
    across = lanczos_matrix(linear.shape[1], 0, linear.shape[1], picture.width)
    down = lanczos_matrix(linear.shape[0], 0, linear.shape[0], picture.height)
    sized = np.einsum("ry,yxc,wx->rwc", down, linear, across, optimize=True)
    y = np.clip(sized @ named_luminance(), 0, 1)
    before = lightness(y)
    blurred = ndimage.gaussian_filter(
        before, plan.radius_px, mode="nearest", truncate=4
    )
    after = np.clip(before + 1.0 * (before - blurred), 0, 100)
    factor = luminance(after) / np.maximum(y, 1e-9)
    sharp = np.clip(sized * factor[..., None], 0, 1)
    encoded = np.where(
        sharp <= 0.0031308, 12.92 * sharp, 1.055 * sharp ** (1 / 2.4) - 0.055
    )
    colours = plan.spec.colour
    # LittleCMS' own command line, through every stage of both profiles.
    judged = transicc(
        encoded.reshape(-1, 3) * 255,
        master.profile,
        sheet.output,
        colours.intent,
        colours.black_point_compensation,
        tmp_path,
    )
    expected = np.rint(np.clip(judged / 255, 0, 1) * 65535).astype(np.uint16)
    expected = expected.reshape(device.shape)
    delta = colour.delta_E(
        device_to_lab(device, sheet.output, intent=colours.intent),
        device_to_lab(expected, sheet.output, intent=colours.intent),
        method="CIE 2000",
    )
    assert delta.max() <= 0.4
    assert np.percentile(delta, 99) <= 0.16


def named_luminance():
    # IEC 61966-2-1 primaries adapted to D50: the middle row of the ICC's own
    # sRGB v4 colorants, to the precision of s15Fixed16.
    return np.array([0.22249, 0.71690, 0.06061])


@pytest.mark.parametrize(
    ("width_in", "width_out"), [(900, 401), (333, 1000)], ids=["down", "up"]
)
def test_resample_matches_definition_of_lanczos(width_in, width_out):
    rng = np.random.default_rng(1)
    plane = rng.random((width_in, width_in), np.float32)
    across = lanczos_matrix(width_in, 0, width_in, width_out)
    expected = across @ plane.astype(np.float64) @ across.T
    done = resample_plane(plane, (0, 0, width_in, width_in), (width_out, width_out))
    # Two sums of at most 16 products in single precision, of weights whose sizes add
    # up to less than 2: 2 · 16 · 2 · 2^-24.
    assert np.abs(done - expected).max() <= 4e-6


@pytest.mark.parametrize("size_out", [(1000, 700), (337, 251)], ids=["up", "down"])
def test_resampled_light_matches_definition_and_do_not_shift(master_of, size_out):
    """An impulse keeps its place to a hundredth of a print pixel."""
    width, height = 500, 350
    pixels = np.zeros((height, width, 3), np.uint16)
    pixels[170:174, 240:244] = 65535
    master = master_of(pixels)
    resampled = ResampledLight(master, Crop(0, 0, width, height), size_out)
    done = resampled.region(Box(0, 0, *size_out))[0].astype(np.float64)
    rows, columns = np.indices(done.shape) + 0.5
    centre_x = (done * columns).sum() / done.sum() * width / size_out[0]
    centre_y = (done * rows).sum() / done.sum() * height / size_out[1]
    assert abs(centre_x - 242) * size_out[0] / width <= 0.01
    assert abs(centre_y - 172) * size_out[1] / height <= 0.01
    across = lanczos_matrix(width, 0, width, size_out[0])
    down = lanczos_matrix(height, 0, height, size_out[1])
    expected = down @ (pixels[..., 0] / 65535.0) @ across.T
    assert np.abs(done - expected).max() <= 5e-5


def test_encoding_undoes_linearising(any_tone_curves):
    codes = np.arange(0, 65536, dtype=np.uint16)
    linear = np.stack([curve[codes][None] for curve in any_tone_curves])
    conversion = Conversion([inverse_curves_step(any_tone_curves)])
    back = conversion.from_linear(linear.astype(np.float32))
    wrong = np.abs(back[0].astype(int) - codes[:, None]).max()
    assert wrong <= 1
