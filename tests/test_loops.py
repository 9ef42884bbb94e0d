"""Loops over pixels: what they compute is what they say, on any processor."""

import hashlib
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pytest

from printplan.errors import RenderError
from printplan.loops import (
    colour,
    dithering,
    filtering,
    kept_code,
    light,
    machine_code,
    masking,
    resampling,
    sampling,
    smoothing,
)

F = np.float32
RNG = np.random.default_rng(20)


def drawn(*shape, low=0.0, high=1.0):
    return (low + (high - low) * RNG.random(shape)).astype(F)


def empty(*shape, kind=F):
    return np.zeros(shape, kind)


def steps_of_every_kind():
    """A matrix, CIELAB, curves of both kinds, and every reading of a table."""
    numbers, rows, at = [], [], 0
    table = drawn(3 * 4 * 5 * 4)
    for kind, sizes, own in (
        (colour.MATRIX, (), drawn(12, low=-0.2, high=0.6)),
        (colour.F_OF_LIGHT, (), drawn(0)),
        (colour.LIGHT_OF_F, (), drawn(0)),
        (colour.CURVES, (3, 17), np.sort(drawn(3, 17)).ravel()),
        (colour.CURVES_BY_OCTAVE, (3, colour.OCTAVE_ENTRIES), octaves()),
        (colour.TRILINEAR, (3, 4, 5, 3), table),
        (colour.TETRAHEDRAL, (3, 4, 5, 3), table),
        (colour.TETRAHEDRAL, (3, 4, 5, 3, 2), drawn(2 * 3 * 4 * 5 * 4)),
    ):
        row = (kind, at, *sizes)
        rows.append([*row, *[0] * (colour.STEP_NUMBERS - len(row))])
        numbers.append(own)
        at += own.size
    return np.array(rows, np.int64), np.concatenate(numbers)


def octaves():
    return np.tile(np.sign(colour.octave_places()), 3).astype(F)


def convert_arguments(pixels=40):
    steps, numbers = steps_of_every_kind()
    room = (
        empty(7, colour.BLOCK),
        empty(3, colour.BLOCK, kind=np.int32),
        empty(colour.BLOCK * colour.LANES),
    )
    return [
        *(1, pixels - 1, drawn(3, pixels, low=-0.1, high=1.1), empty(0, 1, kind="u2")),
        *(steps, numbers, *room, 3, empty(3, 0)),
        empty(3 * 5 * 14, kind=np.uint16),  # rows of 8 pixels in those of 14
        *(8, 14, empty(0, kind=np.uint8)),
    ]


def lines_arguments(order=0):
    """Two edges of three, one at the border, whose lines partly lie beyond."""
    places = np.array([[4, 6.2, 0], [5, 3.7, 0], [1, 0.6, 0.8], [0, 0.8, -0.6]])
    return [
        *(drawn(9, 14), places, np.arange(-2, 2.5, 0.5), np.arange(-1.0, 2)),
        *(order, 1, 3, empty(3, 3, 9)),
    ]


def near(values, low, high):
    return np.clip(np.arange(values) // 2, low, high).astype(np.int64)


NONE, NO_LINE, WEIGHTS = empty(0, 0), empty(0), F([0.3, 0.6, 0.1])
LIGHT = drawn(3, 9, 14, low=-0.05, high=1.1)
LIGHTNESS = drawn(9, 14, low=0.001, high=100)


def sharpened_arguments(weights=NO_LINE, plane=NONE, soft=NONE, around=NONE):
    room = empty(masking.ROWS_OF_ROOM, masking.COLUMNS + 4)
    return [
        *(LIGHT, LIGHTNESS, 1, 2, weights, plane, soft, 1.3, 0.7, around, 2, 0.1),
        *(room, empty(3, 6, 8)),
    ]


CASES = {
    "light_of_codes": (
        light.light_of_codes,
        lambda: [
            np.arange(60, dtype=np.uint8),
            *(1, 15, 3, drawn(3, 256), empty(3, 4, 5)),
        ],
    ),
    "cell_means": (
        light.cell_means,
        lambda: [LIGHT, 4, empty(14), 1, empty(3, 5, 4)],
    ),
    "cell_means_of_codes": (
        light.cell_means_of_codes,
        lambda: [
            np.arange(105, dtype=np.uint8),
            *(1, 21, 3, drawn(3, 256), 5, 3, empty(7), 0, empty(3, 2, 3)),
        ],
    ),
    "lightness_of_light": (
        light.lightness_of_light,
        lambda: [LIGHT, WEIGHTS, empty(9, 14)],
    ),
    "resampled": (
        resampling.resampled,
        lambda: [
            *(drawn(15, 14), near(11, 0, 8), drawn(11, 7)),
            *(near(6, 0, 9), drawn(6, 5), empty(resampling.LANES, 14)),
            *(empty(14 * resampling.LANES), empty(6 * resampling.LANES), empty(11, 6)),
        ],
    ),
    "farthest_near": (
        resampling.farthest_near,
        lambda: [
            *(drawn(9, 14), near(5, 0, 6), near(5, 0, 6) + 2),
            *(near(7, 0, 9), near(7, 0, 9) + 3, -1.0, empty(14), empty(5, 7)),
        ],
    ),
    "filtered": (
        filtering.filtered,
        lambda: [
            *(drawn(9, 14), np.array([0.4, 0.2, 0.1]), 1, 1, 1, 4),
            *(empty(14, kind=np.float64), empty(5, 14)),
        ],
    ),
    "filtered along rows by an odd kernel": (
        filtering.filtered,
        lambda: [
            *(drawn(9, 14), np.array([0.0, 0.2, 0.1]), -1, 0, 2, 9),
            *(empty(10, kind=np.float64), empty(9, 10)),
        ],
    ),
    "sampled_across, the nearest": (sampling.sampled_across, lines_arguments),
    "sampled_across, a spline": (
        sampling.sampled_across,
        lambda: lines_arguments(order=3),
    ),
    "blurred": (
        smoothing.blurred,
        lambda: [
            *(LIGHTNESS, 1, 2, F([0.4, 0.2, 0.1]), NONE, empty(15), empty(7, 11)),
        ],
    ),
    "blurred by a plane": (
        smoothing.blurred,
        lambda: [LIGHTNESS, 1, 2, empty(0), drawn(3, 3), empty(12), empty(8, 12)],
    ),
    "lightened": (
        masking.lightened,
        lambda: [LIGHT, WEIGHTS, 6.0, empty(2, 14), empty(3, 9, 14)],
    ),
    "sharpened": (
        masking.sharpened,
        lambda: sharpened_arguments(weights=F([0.4, 0.2, 0.1])),
    ),
    "sharpened by a plane": (
        masking.sharpened,
        lambda: sharpened_arguments(plane=drawn(3, 3)),
    ),
    "sharpened by a blur that was kept, with a limit": (
        masking.sharpened,
        lambda: sharpened_arguments(soft=drawn(6, 8, high=100), around=LIGHTNESS),
    ),
    "convert": (colour.convert, convert_arguments),
    "round_by": (
        dithering.round_by,
        lambda: [
            RNG.integers(0, 65536, 200).astype(np.uint16),
            *(drawn(200), empty(200, kind=np.uint8)),
        ],
    ),
}


def test_every_loop_has_a_case():
    assert set(machine_code._loops) == {loop for loop, _ in CASES.values()}


@pytest.mark.parametrize("name", CASES)
def test_machine_code_computes_what_its_text_says(name):
    """The very function, run by Python on numbers of the same width."""
    loop, arguments = CASES[name]
    given = arguments()
    copies = [it.copy() if isinstance(it, np.ndarray) else it for it in given]
    singles = [F(it) if isinstance(it, float) else it for it in copies]
    loop(*given)
    loop.__wrapped__(*singles)
    for ours, theirs in zip(given, singles, strict=True):
        assert not isinstance(ours, np.ndarray) or np.array_equal(ours, theirs)
    assert any(
        isinstance(it, np.ndarray) and it.any() and not np.array_equal(it, start)
        for it, start in zip(given, arguments(), strict=True)
    )


@pytest.mark.parametrize(
    "wrong",
    [
        LIGHTNESS.astype(np.float64),
        LIGHTNESS[:, ::2],
        LIGHTNESS.T,
        LIGHTNESS[0],
        LIGHTNESS[None],
    ],
    ids=["double", "strided", "turned", "a row", "a stack"],
)
def test_numbers_of_another_kind_are_refused_not_converted(wrong):
    with pytest.raises(TypeError, match="lightness_of_light takes no"):
        light.lightness_of_light(LIGHT, WEIGHTS, wrong)


@pytest.mark.parametrize("value", [1e-9, 1e-4, 0.008856, 0.009, 0.18, 0.5, 1.0, 2.0])
def test_cube_root_is_that_of_double_precision(value):
    assert light.cube_root(F(value)) == pytest.approx(value ** (1 / 3), rel=3e-7)


def test_numbers_that_are_none_read_no_table_beyond_its_ends():
    given = convert_arguments()
    given[2][:] = np.nan
    given[2][1] = np.inf
    colour.convert(*given)
    assert given[-4].max() <= 65535


# Machine code that is kept


def kept_in(root, monkeypatch):
    monkeypatch.setattr(kept_code, "_roots", lambda: iter([root]))
    return kept_code.kept_code()


@pytest.fixture
def folder_with_code(tmp_path):
    machine_code.compile_loops()
    code = kept_code.kept_code()
    path = tmp_path / kept_code.code_name()
    path.write_bytes(hashlib.sha256(code).digest() + code)
    path.chmod(0o644)
    return path, code


def test_kept_code_is_found(folder_with_code, monkeypatch):
    path, code = folder_with_code
    assert kept_in(path.parent, monkeypatch) == code


@pytest.mark.parametrize("how", ["cut short", "changed", "empty", "a hash alone"])
def test_broken_code_is_not_run(folder_with_code, how, monkeypatch):
    path, _ = folder_with_code
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(
        {
            "cut short": path.read_bytes()[:-1],
            "changed": bytes(data),
            "empty": b"",
            "a hash alone": hashlib.sha256(b"").digest(),
        }[how]
    )
    assert kept_in(path.parent, monkeypatch) is None


@pytest.mark.skipif(os.name == "nt", reason="tells writers of files in another way")
def test_code_that_others_can_write_is_not_run(folder_with_code, monkeypatch):
    path, _ = folder_with_code
    path.chmod(0o664)
    assert kept_in(path.parent, monkeypatch) is None


def test_code_of_other_text_is_not_run(folder_with_code, monkeypatch):
    path, _ = folder_with_code
    monkeypatch.setattr(kept_code, "version", lambda name: f"{name} of next year")
    assert kept_in(path.parent, monkeypatch) is None


def test_a_compiler_that_fails_is_told_in_words(tmp_path, monkeypatch):
    monkeypatch.setattr(kept_code, "_roots", lambda: iter([tmp_path]))
    monkeypatch.setattr(machine_code, "_BEGIN", "raise SystemExit(1)")
    with pytest.raises(RenderError, match="could not be compiled") as caught:
        machine_code._made(None)
    assert "new environment" in caught.value.remedy
    assert list(tmp_path.iterdir()) == []


PICTURE = textwrap.dedent(
    """
    import hashlib
    import numpy as np
    from printplan.colour.conversion import linear_to_device
    from printplan.colour.profiles import open_profile
    from printplan.colour.spaces import named_profile
    from printplan.sharpening.lightness import lighten
    from printplan.sharpening.unsharp import sharpen_lightness
    from printplan.sizing.resampling import resample_plane
    from printplan.spec import (
        BlackPointCompensation,
        Intent,
        NamedSpace,
        SharpenSpec,
    )

    rng = np.random.default_rng(5)
    planes = rng.random((3, 150, 170)).astype(np.float32)
    size, box = (211, 97), (3.3, 1.7, 166.1, 148.9)
    light = np.stack([resample_plane(it, box, size) for it in planes])
    weights = np.array([0.3, 0.6, 0.1])
    lighten(light, weights, 4.0)
    limits = SharpenSpec(gain=1.7, halo_limit_share=0.1, grain_floor_l=0.4)
    sharpen_lightness(light, weights, limits, 1.3)
    codes = linear_to_device(
        named_profile(NamedSpace.ROMM_RGB),
        open_profile({profile!r}),
        intent=Intent.MEDIA_RELATIVE,
        black_point_compensation=BlackPointCompensation.ON,
    ).from_linear(light)
    print(hashlib.sha256(light.tobytes() + codes.tobytes()).hexdigest())
    """
)


@pytest.mark.slow
@pytest.mark.skipif(
    "x86" not in machine_code.llvm.get_default_triple(),
    reason="the levels that are named here are those of x86-64",
)
def test_the_bits_are_those_of_any_processor_and_two_may_compile_at_once(
    tmp_path, fogra39_path
):
    """
    Levels of the x86-64 psABI: the first has vectors of four, the third of eight and
    one rounding for a product and a sum, where code allows it.
    """
    text = PICTURE.format(profile=str(fogra39_path))

    def started(level=None, folder=None):
        chosen = {}
        if level is not None:
            chosen = {"NUMBA_CPU_NAME": level, "NUMBA_CPU_FEATURES": ""}
            chosen |= {"PYTHONDONTWRITEBYTECODE": "1", "XDG_CACHE_HOME": str(folder)}
        return subprocess.Popen(
            [sys.executable, "-c", text],
            env=os.environ | chosen,
            stdout=subprocess.PIPE,
            text=True,
        )

    both = tmp_path / "both"
    running = [
        started("x86-64", both),
        started("x86-64", both),
        started("x86-64-v3", tmp_path / "third"),
        started(),
    ]
    found = [child.communicate()[0] for child in running]
    assert [child.returncode for child in running] == [0] * 4
    assert len(set(found)) == 1
    assert len(found[0].strip()) == 64
    (kept,) = (both / "printplan").glob("*.o")
    assert not list((both / "printplan").glob("*.part"))
    (third,) = (tmp_path / "third" / "printplan").glob("*.o")
    assert Path(kept).read_bytes() != Path(third).read_bytes()
