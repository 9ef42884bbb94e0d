"""A kernel of one's own sharpens as the built-in Gaussian does."""

import os
import sys
from dataclasses import replace
from hashlib import sha256

import numpy as np
import pytest
import tifffile
from recorded_print import recorded, small_studio, with_spec
from scipy import ndimage

from printplan.colour.spaces import named_profile
from printplan.errors import RecordError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.picture_content import picture_content
from printplan.pixels.render import render
from printplan.pixels.sharpening import predicted_effect
from printplan.pixels.sheet import build_sheet, varied
from printplan.pixels.trials.steps import restore_steps, sharpen_words
from printplan.pixels.trials.trial_sheet import TrialSpec, make_trial
from printplan.record.plan_file import open_plan, write_plan_file
from printplan.record.record_file import read_record, write_record
from printplan.record.reprint import Outcome, reprint
from printplan.sharpening import gaussian_kernel, image_lightness, unsharp_mask
from printplan.sharpening.chain import Chain
from printplan.sharpening.effect import sharpening_effect
from printplan.sharpening.kernel import (
    kernel_mtf,
    kernel_of,
    plane_response,
    read_kernel,
)
from printplan.sizing.boxes import Box
from printplan.spec import NamedSpace, SharpenSpec, SheetSpec

pytestmark = pytest.mark.slow

A4 = SheetSpec(media_size="A4", feed="front slot")
BOX = np.full(5, 0.2)
down, across = np.mgrid[-3:4, -3:4]
DISC = (np.hypot(down, across) <= 3.2).astype(np.float64)
DISC /= DISC.sum()


@pytest.fixture(scope="module")
def master(textured, tmp_path_factory):
    path = tmp_path_factory.mktemp("kernel") / "master.tif"
    icc = named_profile(NamedSpace.ROMM_RGB).data
    tifffile.imwrite(path, textured, photometric="rgb", iccprofile=icc, metadata=None)
    with open_master(path) as master:
        yield master


def written(folder, weights, name="kernel.csv"):
    path = folder / name
    rows = np.atleast_2d(weights).tolist()
    path.write_text("\n".join(", ".join(map(repr, row)) for row in rows) + "\n")
    return path


def with_kernel(sheet, path, **changed):
    spec = sheet.plan.spec
    sharpen = replace(spec.sharpen, kernel=str(path), **changed)
    return varied(sheet, replace(spec, sharpen=sharpen))


def test_the_gaussian_itself_as_a_kernel_gives_the_same_file(
    master, plan_for, tmp_path
):
    sheet = build_sheet(
        master, plan_for(master, width_mm=60, gain=1.3, halo_limit_share=0.2)
    )
    path = written(tmp_path, gaussian_kernel(sheet.plan.radius_px))
    own = with_kernel(sheet, path, radius_mm=5.0)  # the radius does not count
    one, other = (
        render(it, tmp_path / f"{name}.tif")
        for name, it in (("built-in", sheet), ("own", own))
    )
    assert one.pixel_blake3 == other.pixel_blake3


@pytest.mark.parametrize("weights", [BOX, DISC], ids=["row", "plane"])
def test_mask_is_the_closed_form_with_scipys_own_filter(master, plan_for, weights):
    """L* + gain · (L* − blur), each step by others' code."""
    sheet = build_sheet(master, plan_for(master, width_mm=60, gain=0.0))
    light = sheet.light.region(sheet.light.picture).clip(0, 1)
    grey = light.mean(axis=0)
    image = (grey**0.5).astype(np.float64)  # any picture from 0 to 1
    lightness = image_lightness(image).astype(np.float64)
    plane = np.outer(weights, weights) if weights.ndim == 1 else weights
    soft = ndimage.convolve(lightness, plane, mode="nearest")
    expected = (2 * lightness - soft).clip(0, 100)
    found = image_lightness(unsharp_mask(image, gain=1.0, kernel=weights))
    assert np.abs(found - expected).max() < 0.05


def test_window_law_holds_with_a_kernel(master, plan_for, tmp_path):
    sheet = build_sheet(master, plan_for(master, width_mm=60, gain=1.0))
    own = with_kernel(sheet, written(tmp_path, DISC), halo_limit_share=0.1)
    render(own, tmp_path / "own.tif")
    pixels = tifffile.imread(tmp_path / "own.tif")
    picture = own.plan.picture_in_file
    for box in (picture, Box(picture.left + 20, picture.top + 31, 55, 43)):
        cut = pixels[box.top : box.bottom, box.left : box.right]
        assert np.array_equal(own.window(box), cut)
    assert not np.array_equal(own.window(picture), sheet.window(picture))


@pytest.mark.parametrize("weights", [BOX, DISC], ids=["row", "plane"])
def test_response_is_the_fourier_transform(weights):
    kernel = kernel_of(weights)
    frequency = np.fft.rfftfreq(64)
    plane = np.outer(weights, weights) if weights.ndim == 1 else weights
    padded = np.zeros((64, 64))
    padded[: len(plane), : len(plane)] = plane
    half = len(plane) // 2
    found = np.fft.fft2(np.roll(padded, (-half, -half), (0, 1))).real[:33, :33]
    np.testing.assert_allclose(plane_response(frequency, kernel), found, atol=1e-12)
    np.testing.assert_allclose(kernel_mtf(frequency, kernel), found[0], atol=1e-12)


@pytest.mark.parametrize("weights", [BOX, DISC], ids=["row", "plane"])
def test_predicted_halo_and_noise_are_those_of_pixels(weights):
    """A drawn edge and drawn noise, sharpened by the array function."""
    chain = Chain(spread=30, ppi=300, distance_mm=400, master_edge_sigma_px=0.6)
    kernel = kernel_of(weights)
    effect = sharpening_effect(chain, gain=1.0, blur=kernel, noise_l=0.4)
    drawn = np.random.default_rng(3).normal(50, 0.4, (600, 600))
    grey = np.clip(drawn, 0, 100) / 100
    light = np.where(grey > 0.08, ((100 * grey + 16) / 116) ** 3, 100 * grey / 903.3)
    coded = np.where(
        light > 0.0031308, 1.055 * light ** (1 / 2.4) - 0.055, 12.92 * light
    )
    sharp = image_lightness(unsharp_mask(coded, gain=1.0, kernel=weights))
    gained = sharp[50:-50, 50:-50].std() / image_lightness(coded).std()
    assert effect.noise_gain == pytest.approx(gained, rel=0.01)
    assert effect.overshoot_in_file > effect.overshoot_in_print > 0


def test_prediction_of_a_print_goes_through_the_kernel(master, plan_for, tmp_path):
    sheet = build_sheet(master, plan_for(master, width_mm=60, gain=1.0))
    content = picture_content(sheet)

    def told(it):
        return predicted_effect(it.plan, content, distance_mm=400)

    path = written(tmp_path, gaussian_kernel(sheet.plan.radius_px))
    built_in, own = told(sheet), told(with_kernel(sheet, path))
    for name in ("overshoot_in_print", "noise_gain", "acutance_after", "peak_mtf"):
        assert getattr(own, name) == pytest.approx(getattr(built_in, name), rel=1e-9)
    disc = told(with_kernel(sheet, written(tmp_path, DISC, "disc.csv")))
    assert disc.noise_gain != pytest.approx(built_in.noise_gain, rel=0.05)


def test_trial_sheet_holds_patches_of_the_kernel(master, plan_for, tmp_path):
    sheet = build_sheet(master, plan_for(master, width_mm=60, gain=1.0))
    path = written(tmp_path, DISC)
    choices = [
        (name, SharpenSpec(gain=gain, kernel=str(path)))
        for name, gain in (("A", 0.5), ("B", 1.5))
    ]
    assert "kernel kernel.csv" in sharpen_words(choices[0][1])
    picture = sheet.plan.picture_in_file
    window = Box(picture.left + 40, picture.top + 40, 400, 300)
    trial = make_trial(
        sheet, restore_steps(sheet, choices), [window], TrialSpec(sheet=A4)
    )
    assert len(trial.key.patches) >= 2
    for patch in trial.key.patches:
        own = varied(sheet, replace(sheet.plan.spec, sharpen=patch.sharpen))
        assert patch.sharpen.kernel == str(path)
        assert np.array_equal(trial.window(patch.on_page), own.window(patch.window))


@pytest.mark.parametrize(
    ("weights", "problem", "remedy"),
    [
        (np.ones(3), "sum to 3", "Divide them by their sum"),
        (np.ones(4) / 4, "4 pixels wide", "odd number"),
        (np.ones((3, 5)) / 15, "3 rows", "as many rows as columns"),
        ([0.2, 0.3, 0.5], "mirrored", "symmetric"),
        ([[0, 0, 0], [0.25, 0.5, 0.25], [0, 0, 0]], "transposed", "transpose"),
        ([-0.25, 1.5, -0.25], "does not blur", "low-pass"),
        ([0.25, np.nan, 0.25], "sum to nan", "Divide"),
        (np.ones((2, 2, 2)), r"shape \(2, 2, 2\)", "one row"),
        (np.array(["a"]), "<U1", "numbers"),
    ],
)
def test_what_is_no_kernel_is_refused(weights, problem, remedy):
    with pytest.raises(SpecError, match=problem) as caught:
        kernel_of(weights)
    assert remedy in caught.value.remedy


@pytest.mark.parametrize("text", ["", "a,b,c\n", "1;2;3\n", "0.5,0.5\n0.5\n"])
def test_a_file_that_is_no_kernel_is_refused(tmp_path, text):
    path = tmp_path / "kernel.csv"
    path.write_text(text)
    with pytest.raises(SpecError):
        read_kernel(path)
    with pytest.raises(SpecError, match=r"There is no file .*nowhere\.csv\."):
        read_kernel(tmp_path / "nowhere.csv")


@pytest.mark.skipif(sys.platform == "win32", reason="Pipes have other names there.")
def test_a_kernel_that_is_no_file_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "long.csv").write_bytes(b"1," * 600_000)
    for name, problem in {
        tmp_path / "pipe.csv": "is a pipe",
        "/dev/zero": "is a device",
        tmp_path: "is a folder",
        f"{tmp_path}/a\0b": "a zero byte",
        "n" * 5000: "cannot be found by that name",
        tmp_path / "long.csv": "longer than 1 MB",
    }.items():
        with pytest.raises(SpecError, match=problem):
            read_kernel(name)


def test_an_edited_kernel_is_read_anew(tmp_path):
    path = written(tmp_path, BOX)
    before = read_kernel(path)
    written(tmp_path, np.array([0.25, 0.5, 0.25]))
    assert read_kernel(path).weights != before.weights


def test_record_keeps_the_hash_and_reprints(studio, textured, tmp_path):
    wish = small_studio(tmp_path / "job", studio, textured)
    path = written(tmp_path / "job", DISC)
    sharpen = SharpenSpec(gain=1.0, kernel=str(path))
    record = recorded(with_spec(wish, sharpen=sharpen), tmp_path / "print")
    assert record.kernel_sha256 == sha256(path.read_bytes()).hexdigest()
    write_record(record, tmp_path / "print.toml")
    again = read_record(tmp_path / "print.toml")
    assert again.spec.sharpen.kernel == str(path)
    assert reprint(again, tmp_path / "again.tif").outcome is Outcome.IDENTICAL
    written(tmp_path / "job", BOX)
    with pytest.raises(RecordError, match="has changed") as caught:
        reprint(again, tmp_path / "third.tif")
    assert "Put the old file back" in caught.value.remedy
    path.unlink()
    with pytest.raises(RecordError, match="There is no file"):
        reprint(again, tmp_path / "third.tif")


def test_plan_names_the_kernel_from_its_own_folder(studio, textured, tmp_path):
    folder = tmp_path / "job"
    wish = small_studio(folder, studio, textured)
    written(folder, DISC)
    spec = replace(wish.spec, sharpen=SharpenSpec(gain=1.0, kernel="kernel.csv"))
    write_plan_file(replace(wish, spec=spec), folder / "own.toml")
    assert 'kernel = "kernel.csv"' in (folder / "own.toml").read_text()
    with open_plan(folder / "own.toml").master as master:
        own = open_plan(folder / "own.toml")
        assert own.plan.spec.sharpen.kernel == str(folder / "kernel.csv")
        assert master.facts == own.master.facts
        own.master.close()
