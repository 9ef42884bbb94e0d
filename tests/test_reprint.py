import filecmp
import hashlib
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
import tifffile
from recorded_print import MADE_ON, recorded, small_studio, with_spec

import printplan
from printplan.colour.spaces import named_profile
from printplan.errors import RecordError, RenderError
from printplan.pixels.render import render
from printplan.record.plan_file import open_plan_file, read_plan_file
from printplan.record.record import make_record
from printplan.record.record_file import write_record
from printplan.record.reprint import (
    Outcome,
    compare_records,
    reprint,
    reprint_path,
    side_by_side,
)
from printplan.spec import Delivery, DeliverySpec, FileFormat, NamedSpace

CHILD = """
import json, sys
from printplan.record.record_file import read_record
from printplan.record.reprint import reprint
told = []
for record, out in json.loads(sys.argv[1]):
    made = reprint(read_record(record), out)
    told.append([str(made.outcome), list(made.reasons), made.rendered.sha256])
print(json.dumps(told))
"""


@pytest.fixture(scope="module")
def wish(studio, textured, tmp_path_factory):
    return small_studio(tmp_path_factory.mktemp("reprint"), studio, textured)


@pytest.fixture(scope="module")
def record(wish, tmp_path_factory):
    return recorded(wish, tmp_path_factory.mktemp("printed") / "print")


@pytest.mark.slow
def test_every_demo_plan_comes_out_again_byte_for_byte(studio, tmp_path):
    """In another interpreter, which knows nothing but the record's file."""
    jobs = []
    for path in studio.plan_paths:
        wish = read_plan_file(path).resolved(path)
        sheet = open_plan_file(wish)
        first = tmp_path / f"{path.stem}.tif"
        with sheet.master:
            made = render(sheet, first)
            kept = make_record(sheet, [], made, made_on=MADE_ON, plan_file=wish)
        record = tmp_path / f"{path.stem}.toml"
        write_record(kept, record)
        jobs.append((record, tmp_path / f"{path.stem}-again.tif", first))
    paths = [Path(printplan.__file__).parent.parent, os.environ.get("PYTHONPATH")]
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            CHILD,
            json.dumps([[str(a), str(b)] for a, b, _ in jobs]),
        ],
        capture_output=True,
        check=True,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(map(str, filter(None, paths)))},
    )
    told = json.loads(done.stdout)
    assert len(told) == 3
    for (_, again, first), (outcome, reasons, sha256) in zip(jobs, told, strict=True):
        assert (outcome, reasons) == ("identical", [])
        assert filecmp.cmp(again, first, shallow=False)
        assert sha256 == hashlib.sha256(again.read_bytes()).hexdigest()


@pytest.mark.slow
@pytest.mark.parametrize(
    "delivery",
    [
        DeliverySpec(file_format=FileFormat.TIFF_8, dither_seed=11),
        DeliverySpec(file_format=FileFormat.PDF),
        DeliverySpec(
            colour=Delivery.NAMED_SPACE,
            named_space=NamedSpace.SRGB,
            file_format=FileFormat.JPEG,
        ),
        DeliverySpec(colour=Delivery.WORKING_COLOUR),
    ],
    ids=["dithered", "pdf", "jpeg", "working-colour"],
)
def test_every_kind_of_file_comes_out_again(wish, delivery, tmp_path):
    record = recorded(with_spec(wish, delivery=delivery), tmp_path / "print")
    made = reprint(record, reprint_path(record, tmp_path))
    assert made.outcome is Outcome.IDENTICAL
    assert filecmp.cmp(made.rendered.path, record.rendered.path, shallow=False)


def test_same_pixels_in_another_file_are_told_apart_from_others(record, tmp_path):
    """The same wish as PDF has the same pixels; with another gain it has not."""
    delivery = replace(record.spec.delivery, file_format=FileFormat.PDF)
    other = replace(record, spec=replace(record.spec, delivery=delivery))
    assert reprint(other, tmp_path / "a.pdf").outcome is Outcome.SAME_PIXELS
    sharpen = replace(record.spec.sharpen, gain=0.9)
    other = replace(record, spec=replace(record.spec, sharpen=sharpen))
    made = reprint(other, tmp_path / "a.tif")
    assert made.outcome is Outcome.DIFFERENT_PIXELS
    assert made.reasons == ()
    assert "Nothing that the record keeps has changed" in made.words


def test_pixels_of_records_of_before_are_told_apart_too(record, tmp_path):
    """They know the pixels by SHA-256: here of what a reader finds in the file."""
    pixels = tifffile.imread(record.rendered.path).astype("<u2")
    digest = hashlib.sha256(pixels.tobytes()).hexdigest()
    rendered = replace(record.rendered, pixel_blake3="", pixel_sha256=digest)
    delivery = replace(record.spec.delivery, file_format=FileFormat.PDF)
    other = replace(
        record, rendered=rendered, spec=replace(record.spec, delivery=delivery)
    )
    assert reprint(other, tmp_path / "a.pdf").outcome is Outcome.SAME_PIXELS
    sharpen = replace(record.spec.sharpen, gain=0.9)
    other = replace(other, spec=replace(other.spec, sharpen=sharpen))
    assert reprint(other, tmp_path / "b.pdf").outcome is Outcome.DIFFERENT_PIXELS


def test_changed_versions_are_named_as_reasons(record, tmp_path):
    versions = replace(record.versions, numpy="1.0", zlib="1.1")
    made = reprint(replace(record, versions=versions), tmp_path / "a.tif")
    assert made.outcome is Outcome.IDENTICAL
    assert made.reasons == (
        f"numpy 1.0 then, {record.versions.numpy} now",
        f"zlib 1.1 then, {record.versions.zlib} now",
    )
    assert made.words.startswith("Identical")
    assert all(reason in made.words for reason in made.reasons)


@pytest.mark.slow
def test_master_may_lie_elsewhere_but_must_be_the_same(studio, textured, tmp_path):
    wish = small_studio(tmp_path / "studio", studio, textured)
    record = recorded(wish, tmp_path / "print")
    master = Path(wish.master.file)
    moved = master.rename(tmp_path / "moved.tif")
    with pytest.raises(RecordError, match=record.facts.sha256[:12]):
        reprint(record, tmp_path / "a.tif")
    made = reprint(record, tmp_path / "a.tif", master=moved)
    assert made.outcome is Outcome.IDENTICAL
    small_studio(tmp_path / "other", studio, textured[::-1])
    with pytest.raises(RecordError, match="old master") as refused:
        reprint(record, tmp_path / "b.tif", master=tmp_path / "other" / "master.tif")
    assert record.facts.sha256[:12] in refused.value.problem
    assert not (tmp_path / "b.tif").exists()


def with_profile(record, path):
    pairs = tuple(replace(it, profile=str(path)) for it in record.paper.on_printer)
    return replace(record, paper=replace(record.paper, on_printer=pairs))


def test_profile_must_be_the_recorded_one(record, paper_profiles, tmp_path):
    path = tmp_path / "paper.icc"
    changed = with_profile(record, path)
    with pytest.raises(RecordError, match=record.profile.sha256[:12]):
        reprint(changed, tmp_path / "a.tif")
    path.write_bytes(paper_profiles["Alder Satin 260"].data)
    with pytest.raises(RecordError, match="old profile"):
        reprint(changed, tmp_path / "a.tif")
    path.write_bytes(paper_profiles[record.paper.name].data)
    assert reprint(changed, tmp_path / "a.tif").outcome is Outcome.IDENTICAL


@pytest.mark.slow
def test_assumed_profile_must_be_the_recorded_one(wish, textured, tmp_path):
    tifffile.imwrite(tmp_path / "m.tif", textured, photometric="rgb", metadata=None)
    profile = tmp_path / "mine.icc"
    profile.write_bytes(named_profile(NamedSpace.OPRGB).data)
    master = replace(
        wish.master, file=str(tmp_path / "m.tif"), assume_profile=str(profile)
    )
    record = recorded(replace(wish, master=master), tmp_path / "print")
    profile.write_bytes(named_profile(NamedSpace.SRGB).data)
    with pytest.raises(RecordError, match=record.facts.profile_sha256[:12]):
        reprint(record, tmp_path / "a.tif")


def test_reprint_overwrites_nothing_unasked(record, wish, tmp_path):
    before = Path(record.rendered.path).stat()
    with pytest.raises(RenderError, match="another name"):
        reprint(record, record.rendered.path)
    assert Path(record.rendered.path).stat() == before
    with pytest.raises(RenderError, match="never written"):
        reprint(record, wish.master.file, overwrite=True)
    names = []
    for _ in range(3):
        target = reprint_path(record, tmp_path)
        target.touch()
        names.append(target.name)
    assert names == ["print-again.tif", "print-again-2.tif", "print-again-3.tif"]


def test_a_record_does_not_differ_from_itself(record):
    assert compare_records(record, record) == ()
    assert side_by_side(()) == "The two records are the same."


def test_differences_are_told_in_words_with_units(record):
    size = replace(record.spec.size, width_mm=125.5)
    sharpen = replace(record.spec.sharpen, halo_limit_share=0.12)
    other = replace(
        record,
        note="Second.",
        spec=replace(record.spec, size=size, sharpen=sharpen),
        facts=replace(record.facts, sha256=64 * "0"),
        paper=replace(record.paper, weight_gsm=300.0),
    )
    there = {it.what: (it.first, it.second) for it in compare_records(record, other)}
    assert there == {
        "note": ("not given", "Second."),
        "size, width": ("120 mm", "125.5 mm"),
        "sharpening, halo limit share": ("not given", "0.12"),
        "master, sha256": (f"{record.facts.sha256[:12]}…", "000000000000…"),
        "paper, weight": ("310 g/m²", "300 g/m²"),
    }
    back = {it.what: (it.second, it.first) for it in compare_records(other, record)}
    assert back == there


def test_smallest_differences_and_lists_show(record, studio):
    sharpen = record.spec.sharpen
    finer = replace(sharpen, radius_mm=sharpen.radius_mm + 1e-9)
    other = replace(
        record,
        spec=replace(record.spec, sharpen=finer),
        findings=record.findings[1:],
        paper=studio.book.paper("Alder Satin 260"),
    )
    differences = compare_records(record, other)
    radius = next(it for it in differences if it.what == "sharpening, radius")
    assert radius.first != radius.second
    missing = record.findings[0].finding.topic
    gone = [it for it in differences if f'"{missing}"' in it.what]
    assert gone
    assert {it.second for it in gone} == {"not given"}
    table = side_by_side(differences, first="one.toml", second="two.toml")
    assert max(map(len, table.splitlines())) <= 130
    assert "Alder Satin 260" in table
