"""Masters as libraries of others write them: the same picture, or a reason."""

from collections import Counter
from pathlib import Path

import outside_tools
import PIL
import pytest
from written_by_codecs import of_imagecodecs, of_pypng, of_simplejpeg
from written_by_opencv import of_opencv
from written_by_pillow import of_pillow
from written_by_tifffile import of_tiffcp, of_tifffile
from written_by_vips import of_vips
from written_cases import PROFILES, REFUSALS, complaint

WRITERS = {
    "tifffile": of_tifffile,
    "Pillow": of_pillow,
    "libvips": of_vips,
    "OpenCV": of_opencv,
    "imagecodecs": of_imagecodecs,
    "pypng": of_pypng,
    "simplejpeg": of_simplejpeg,
    "libtiff's tiffcp": of_tiffcp,
}
# Pillow's JPEGs are compared with what libvips reads.
WANTED = {"Pillow": "pyvips", "libvips": "pyvips", "OpenCV": "cv2", "pypng": "png"}
PILLOW = 13
"""Tried: 13.0 writes what it is asked for here, 11.0 lacks Zstandard and BigTIFF."""

DEVELOPERS = Path(__file__).parent.parent / "DEVELOPERS.md"


def marked(name):
    tools = [pytest.mark.tools("tiffcp")] if "tiffcp" in name else []
    return pytest.param(name, marks=[pytest.mark.slow, *tools])


@pytest.mark.parametrize("name", map(marked, WRITERS))
def test_master_is_the_picture_its_writer_was_given_or_is_refused(name, tmp_path):
    """What must come of each file is written down beside the way it is made."""
    if outside_tools.library(WANTED.get(name, "tifffile")) is None:
        outside_tools.missing(f"{name} not found: pip install 'printplan[tests]'")
    if name == "Pillow" and int(PIL.__version__.split(".")[0]) < PILLOW:
        outside_tools.missing(
            f"Pillow {PILLOW} or later not found: older lack Zstandard"
        )
    (tmp_path / "grey.icc").write_bytes(PROFILES[1])
    (tmp_path / "rgb.icc").write_bytes(PROFILES[3])
    wrong = [
        f"{case.name}: {why}"
        for case in WRITERS[name]()
        if (why := complaint(case, tmp_path))
    ]
    if wrong:
        pytest.fail("\n".join(wrong), pytrace=False)


def row_of(name):
    """The library's row in the table of DEVELOPERS.md."""
    cases = list(WRITERS[name]())
    refused = Counter(case.refusal for case in cases if case.refusal)
    formats = ", ".join(sorted({case.file_format for case in cases}, reverse=True))
    reasons = ", ".join(f"{kind} {count}" for kind, count in sorted(refused.items()))
    same = len(cases) - refused.total()
    return f"| {name} | {formats} | {len(cases)} | {same} | {reasons} |"


@pytest.mark.parametrize("name", WRITERS)
def test_table_of_writers_counts_the_files_that_are_tried(name):
    assert row_of(name) in DEVELOPERS.read_text(encoding="utf-8").splitlines()


def test_files_differ_and_every_kind_of_refusal_is_tried():
    cases = [case for of_writer in WRITERS.values() for case in of_writer()]
    for name, of_writer in WRITERS.items():
        names = Counter(case.name for case in of_writer())
        assert max(names.values()) == 1, name
    assert len(cases) >= 2700
    kinds = {case.refusal for case in cases} | {"transparency"}
    assert kinds - {""} == set(REFUSALS)
