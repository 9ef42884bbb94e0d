"""The studio's files are made once, whole, and never over the user's own."""

from pathlib import Path

import colour
import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st

from printplan.colour.profiles import open_profile
from printplan.colour.spaces import (
    decode,
    lab_from_xyz,
    named_profile,
    xyz_d50_from_linear,
    xyz_from_lab,
)
from printplan.colour.transforms import device_to_lab, lab_to_device
from printplan.demo import photographs
from printplan.demo.computed_files import (
    MANIFEST_NAME,
    Recipe,
    file_sha256,
    make_missing,
)
from printplan.demo.photographs import (
    PHOTOGRAPHS,
    inside_romm,
    photograph_file,
    photograph_pixels,
    strengthened,
)
from printplan.demo.scenario import make_scenario, studio_papers, studio_printer
from printplan.errors import MasterError, RecordError
from printplan.pixels.master import open_master
from printplan.record.paper_book import read_paper_book
from printplan.record.plan_file import read_plan_file
from printplan.sizing.media_sizes import media_size_mm
from printplan.spec import Intent, NamedSpace

BOXES = [
    photographs.GREY_RAMP,
    photographs.GREY_STEPS,
    photographs.COLOUR_RAMPS,
    photographs.STAR,
    photographs.LINES,
    photographs.SLANTED_EDGES,
    photographs.SHADOW_STEPS,
]


@pytest.fixture(scope="module")
def scenario(studio):
    return studio.scenario


@pytest.fixture(scope="module")
def drawn(scenario):
    return tifffile.imread(scenario.chart)


def lab_of_master(pixels):
    linear = decode(NamedSpace.ROMM_RGB, pixels / 65535)
    return lab_from_xyz(linear @ xyz_d50_from_linear(NamedSpace.ROMM_RGB).T)


def lab_of_photograph(pixels):
    linear = decode(NamedSpace.SRGB, pixels / 255)
    return lab_from_xyz(linear @ xyz_d50_from_linear(NamedSpace.SRGB).T)


def part(array, box):
    return array[box.top : box.bottom, box.left : box.right]


def write(text):
    return lambda path: path.write_text(text, encoding="ascii") and None


def recipe(text="one", made_from="1", name="a/file.txt"):
    return Recipe(name, made_from, write(text))


# Making and keeping files


def test_every_file_is_there_and_nothing_else(scenario):
    assert all(path.is_file() for path in (*scenario.profiles, *scenario.masters))
    assert scenario.changed_by_user == ()
    made = {
        path
        for folder in ("profiles", "masters")
        for path in (scenario.folder / folder).iterdir()
    }
    assert made == {*scenario.profiles, *scenario.masters}


def test_a_second_call_makes_nothing(scenario):
    times = [path.stat().st_mtime_ns for path in scenario.masters]
    told = []
    again = make_scenario(scenario.folder, progress=told.append)
    assert told == []
    assert again == scenario
    assert [path.stat().st_mtime_ns for path in again.masters] == times


def test_a_missing_file_is_made_and_told(tmp_path):
    told = []
    assert make_missing(tmp_path, (recipe(),), progress=told.append) == ()
    (tmp_path / "a/file.txt").unlink()
    make_missing(tmp_path, (recipe(),), progress=told.append)
    assert told == ["Making a/file.txt"] * 2
    assert (tmp_path / "a/file.txt").read_text(encoding="ascii") == "one"


def test_another_recipe_replaces_our_own_file(tmp_path):
    make_missing(tmp_path, (recipe(),))
    assert make_missing(tmp_path, (recipe("two", "2"),)) == ()
    assert (tmp_path / "a/file.txt").read_text(encoding="ascii") == "two"


@pytest.mark.parametrize("made_from", ["1", "2"])
def test_a_file_that_the_user_changed_is_kept_and_named(tmp_path, made_from):
    make_missing(tmp_path, (recipe(),))
    path = tmp_path / "a/file.txt"
    path.write_text("mine", encoding="ascii")
    assert make_missing(tmp_path, (recipe("two", made_from),)) == (path,)
    assert path.read_text(encoding="ascii") == "mine"


def test_a_file_that_was_there_before_is_kept_and_named(tmp_path):
    path = tmp_path / "a/file.txt"
    path.parent.mkdir()
    path.write_text("one", encoding="ascii")
    assert make_missing(tmp_path, (recipe(),)) == (path,)


def test_a_copied_folder_is_known_by_its_content(tmp_path):
    make_missing(tmp_path, (recipe(),))
    path = tmp_path / "a/file.txt"
    path.write_text("one", encoding="ascii")
    told = []
    assert make_missing(tmp_path, (recipe(),), progress=told.append) == ()
    assert told == []


def test_a_file_that_fails_half_way_leaves_nothing(tmp_path):
    def fail(path):
        path.write_text("half", encoding="ascii")
        raise OSError(28, "No space left on device")

    with pytest.raises(RecordError, match="Choose a folder of your own"):
        make_missing(tmp_path, (Recipe("a/file.txt", "1", fail),))
    assert [path.name for path in tmp_path.rglob("*")] == ["a"]


def test_a_crash_before_the_last_move_does_not_orphan_a_file(tmp_path, monkeypatch):
    make_missing(tmp_path, (recipe(),))
    replace = Path.replace

    def crash(self, target):
        if Path(target).name == "file.txt":
            raise KeyboardInterrupt
        return replace(self, target)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "replace", crash)
        with pytest.raises(KeyboardInterrupt):
            make_missing(tmp_path, (recipe("two", "2"),))
    path = tmp_path / "a/file.txt"
    assert path.read_text(encoding="ascii") == "one"
    assert make_missing(tmp_path, (recipe("two", "2"),)) == ()
    assert path.read_text(encoding="ascii") == "two"


def test_another_process_in_the_same_folder_is_not_taken_for_the_user(tmp_path):
    def meanwhile(path):
        make_missing(tmp_path, (recipe(name="second.txt"),))
        path.write_text("one", encoding="ascii")

    both = (Recipe("first.txt", "1", meanwhile), recipe(name="second.txt"))
    assert make_missing(tmp_path, both) == ()
    assert make_missing(tmp_path, both) == ()


def test_a_damaged_manifest_is_an_error_with_a_remedy(tmp_path):
    make_missing(tmp_path, (recipe(),))
    (tmp_path / MANIFEST_NAME).write_text("{", encoding="ascii")
    with pytest.raises(RecordError, match="Remove it"):
        make_missing(tmp_path, (recipe(),))


def test_a_folder_that_is_a_file_is_an_error_with_a_remedy(tmp_path):
    (tmp_path / "taken").write_text("", encoding="ascii")
    with pytest.raises(RecordError, match="Choose a folder of your own"):
        make_scenario(tmp_path / "taken")


def test_an_absent_photograph_is_an_error_with_a_remedy():
    with pytest.raises(MasterError, match="Install printplan again"):
        photograph_file("no-such-photograph")


def test_papers_ask_for_their_profiles(tmp_path):
    with pytest.raises(RecordError, match="Make the demo in"):
        studio_papers(tmp_path)


# Printer and papers


def test_papers_go_through_the_feeds_they_name(scenario):
    printer = studio_printer()
    for paper in studio_papers(scenario.folder):
        pair = paper.on(printer)
        assert pair.black_ink in printer.black_inks
        for name in pair.feeds:
            feed = printer.feed(name)
            assert feed.thinnest_um <= paper.thickness_um <= feed.thickest_um
            for sheet in paper.sheets:
                width_mm, height_mm = media_size_mm(sheet)
                assert feed.narrowest_mm <= width_mm <= feed.widest_mm
                assert feed.shortest_mm <= height_mm <= feed.longest_mm


def test_papers_know_their_profiles_by_hash(scenario):
    papers = studio_papers(scenario.folder)
    for paper, path in zip(papers, scenario.profiles, strict=True):
        pair = paper.on(studio_printer())
        assert scenario.folder / pair.profile == path
        assert pair.profile_sha256 == file_sha256(path)
        assert paper.name in open_profile(path).name


def test_only_matte_papers_take_matte_black(scenario):
    inks = [
        (paper.surface, paper.on(studio_printer()).black_ink)
        for paper in studio_papers(scenario.folder)
    ]
    assert inks == [
        ("satin", "photo black"),
        ("baryta", "photo black"),
        ("matte", "matte black"),
        ("gloss", "photo black"),
        ("matte", "matte black"),
    ]


# Masters


@pytest.mark.slow
@pytest.mark.parametrize("photograph", PHOTOGRAPHS, ids=lambda one: one.name)
def test_master_is_16_bit_romm_rgb_with_the_credit(scenario, photograph):
    path = scenario.folder / "masters" / f"{photograph.name}.tif"
    with open_master(path) as master:
        facts = master.facts
    pixels = photograph_pixels(photograph.name)
    assert (facts.height_px, facts.width_px, facts.channels) == pixels.shape
    assert (facts.bits, facts.is_float) == (16, False)
    assert facts.profile_name == named_profile(NamedSpace.ROMM_RGB).name
    assert facts.creator == photograph.creator
    assert photograph.creator in facts.copyright_notice
    assert not facts.has_location


def test_credits_are_those_beside_the_photographs(photographs):
    text = (photographs / "README.md").read_text(encoding="utf-8")
    for photograph in PHOTOGRAPHS:
        (line,) = [line for line in text.splitlines() if photograph.name in line]
        assert photograph.creator in line
        licence = photograph.rights.split(", ")[1]
        assert licence in line


@pytest.mark.parametrize("photograph", PHOTOGRAPHS, ids=lambda one: one.name)
def test_master_keeps_lightness_and_hue_and_gains_chroma(scenario, photograph):
    path = scenario.folder / "masters" / f"{photograph.name}.tif"
    master = lab_of_master(tifffile.memmap(path, mode="r")[::41, ::37])
    plain = lab_of_photograph(photograph_pixels(photograph.name)[::41, ::37])
    if photograph.tone_power != 1:
        # One factor for X, Y and Z takes Y to its power.
        xyz = xyz_from_lab(plain)
        plain = lab_from_xyz(xyz * xyz[..., 1:2] ** (photograph.tone_power - 1))
    assert np.abs(master[..., 0] - plain[..., 0]).max() < 0.01
    chroma = np.hypot(plain[..., 1], plain[..., 2])
    ratio = np.hypot(master[..., 1], master[..., 2])[chroma > 10] / chroma[chroma > 10]
    assert ratio.min() > 0.999
    assert 1.1 < ratio.max() <= 1.3001
    hue = np.arctan2(master[..., 2], master[..., 1]) - np.arctan2(
        plain[..., 2], plain[..., 1]
    )
    away = np.degrees(np.abs((hue + np.pi) % (2 * np.pi) - np.pi))
    assert away[chroma > 10].max() < 0.1


def test_no_strengthened_colour_leaves_romm_rgb():
    levels = np.arange(0, 256, 15, dtype=np.uint8)
    every = np.stack(np.meshgrid(levels, levels, levels, indexing="ij"), axis=-1)
    linear = strengthened(every)
    assert linear.min() >= 0
    assert linear.max() <= 1
    greys = strengthened(np.repeat(levels[:, None], 3, axis=1))
    assert np.ptp(greys, axis=1).max() < 1e-4


COLOURS = st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
WISHES = st.tuples(st.floats(-2, 3), st.floats(-2, 3), st.floats(-2, 3))


@given(plain=COLOURS, wished=WISHES)
def test_a_wished_colour_is_approached_as_far_as_there_is_room(plain, wished):
    plain, wished = np.array(plain), np.array(wished)
    found = inside_romm(plain, wished)
    assert found.min() >= 0
    assert found.max() <= 1
    if wished.min() >= 0 and wished.max() <= 1:
        assert found == pytest.approx(wished, abs=1e-9)
    else:
        # On the straight line, and with one channel at its end.
        assert np.linalg.norm(np.cross(found - plain, wished - plain)) < 1e-6
        assert min(found.min(), 1 - found.max()) == pytest.approx(0, abs=1e-6)


def test_red_bowl_has_colours_that_no_paper_holds(scenario):
    lab = lab_of_master(tifffile.memmap(scenario.red_bowl, mode="r")[::12, ::12])
    shares = []
    for path in scenario.profiles:
        profile = open_profile(path)
        device = lab_to_device(lab, profile, intent=Intent.MEDIA_RELATIVE)
        back = device_to_lab(device, profile, intent=Intent.MEDIA_RELATIVE)
        # In reach, a round trip is wrong by 2 at the most.
        outside = colour.delta_E(lab, back, method="CIE 2000") > 2
        shares.append(outside.mean())
    assert min(shares) > 0.05
    assert shares[2] > 0.3


# Chart


def test_chart_boxes_lie_apart_and_inside(drawn):
    assert drawn.shape == (photographs.CHART_HEIGHT_PX, photographs.CHART_WIDTH_PX, 3)
    taken = np.zeros(drawn.shape[:2], int)
    for box in BOXES:
        taken[box.top : box.bottom, box.left : box.right] += 1
        assert box.right <= photographs.CHART_WIDTH_PX
        assert box.bottom <= photographs.CHART_HEIGHT_PX
    assert taken.max() == 1


def test_chart_grey_ramp_is_even_in_lightness(drawn):
    lab = lab_of_master(part(drawn, photographs.GREY_RAMP)[90])
    even = np.linspace(0, 100, photographs.GREY_RAMP.width)
    # Near black, one code of 16 bits is 0.0009 of L*; elsewhere it is more.
    assert lab[:, 0] == pytest.approx(even, abs=2e-3)
    assert np.abs(lab[:, 1:]).max() < 0.01


def test_chart_steps_and_shadows_are_what_they_say(drawn):
    steps = lab_of_master(part(drawn, photographs.GREY_STEPS)[70, 66 :: 2800 // 21])[
        :, 0
    ]
    assert steps[:21] == pytest.approx(np.arange(21) * 5, abs=2e-3)
    shadows = part(drawn, photographs.SHADOW_STEPS)[50::100, 60::120]
    levels = lab_of_master(shadows)[..., 0].ravel()
    assert levels == pytest.approx(np.arange(40) * 0.5, abs=2e-3)


def test_chart_edges_have_their_angle_blur_and_contrast(drawn):
    box = photographs.SLANTED_EDGES
    linear = decode(NamedSpace.ROMM_RGB, part(drawn, box)[..., 1] / 65535)
    middle = linear[box.height // 2 - 60 : box.height // 2 + 60, : box.width // 2]
    assert middle.max() / middle.min() == pytest.approx(4.0, abs=0.01)
    # The derivative of a Gaussian edge has the Gaussian's centre and deviation; a
    # row cuts it 1/cos 5° wider, and the pixel's width adds 1/12 by differences.
    slope = -np.diff(middle, axis=1)
    weight = slope / slope.sum(axis=1, keepdims=True)
    columns = np.arange(weight.shape[1])
    centre = (weight * columns).sum(axis=1)
    spread = (weight * (columns - centre[:, None]) ** 2).sum(axis=1)
    lean = np.polyfit(np.arange(120), centre, 1)[0]
    angle = np.radians(photographs.EDGE_ANGLE_DEG)
    assert np.degrees(np.arctan(abs(lean))) == pytest.approx(5.0, abs=0.02)
    blur_px = np.sqrt(spread.mean() - 1 / 12) * np.cos(angle)
    assert blur_px == pytest.approx(photographs.EDGE_SIGMA_PX, abs=0.005)


def test_chart_lines_alternate_every_pixel_at_the_finest(drawn):
    lines = part(drawn, photographs.LINES)[..., 0]
    finest = lines[60, 40:280]
    assert (np.abs(np.diff(finest.astype(int))) > 20_000).all()
    widest = lines[4 * 160 + 60, 40:280]
    assert np.count_nonzero(np.diff(widest.astype(int))) == 39


def test_chart_star_has_its_spokes_on_every_circle(drawn):
    star = decode(NamedSpace.ROMM_RGB, part(drawn, photographs.STAR)[..., 0] / 65535)
    centre = (photographs.STAR.width - 1) / 2
    for radius in (120, 240, 360):
        angle = np.arange(2880) * (2 * np.pi / 2880)
        rows = np.round(centre + radius * np.sin(angle)).astype(int)
        columns = np.round(centre + radius * np.cos(angle)).astype(int)
        waves = np.abs(np.fft.rfft(star[rows, columns] - 0.5))
        assert waves.argmax() == photographs.SPOKES
        # Amplitude 0.45; taking whole pixels blurs it a little.
        assert waves.max() / 1440 == pytest.approx(0.45, abs=0.02)


def test_lesson_practises_on_a_copy(studio):
    """The same print of the same master; its paper book is another file."""
    lesson, job = (read_plan_file(it) for it in (studio.lesson_path, studio.job_path))
    seen, meant = lesson.resolved(studio.lesson_path), job.resolved(studio.job_path)
    assert lesson.spec == job.spec
    assert Path(seen.master.file).samefile(meant.master.file)
    assert not Path(seen.book).samefile(meant.book)
    assert read_paper_book(seen.book) == read_paper_book(meant.book)
