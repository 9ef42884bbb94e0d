"""
Real output profiles of several makers' software go through *add paper*.

From Debian's packages: two made by scripts for PostScript's defaults (one version 2,
one version 4 on XYZ), one more that prints black alone, one for a standard press
condition, one for a digital press, and one of LittleCMS' own test profiles; then one
that was made from FOGRA39's data. Debian has none of class output for RGB or grey: the
demo's own in version 2 and 4 and an invented grey one stand in. What is told of them
is compared with bytes read by `struct` and with LittleCMS' own command line, a build
of its own.
"""

import struct
import subprocess
from dataclasses import replace
from pathlib import Path

import colour
import numpy as np
import outside_tools
import pytest
from profile_flaws import grey_output_profile

from printplan.errors import ProfileError
from printplan.media import DriverColour
from printplan.record.paper_book import PaperBook, read_paper_book, write_paper_book
from printplan.record.paper_from_profile import (
    add_from_profile,
    judge_profile,
    propose_from,
)

DEBIAN = (
    "default_cmyk.icc",
    "ps_cmyk.icc",
    "gray_to_k.icc",
    "ISOcoated_v2_300_bas.icc",
    "TestCLT.icc",
    "test1.icc",
)
OWN = ("FOGRA39", "RGB version 2", "RGB version 4", "grey")
WHITE = {"CMYK": [0, 0, 0, 0], "RGB ": [255, 255, 255], "GRAY": [255]}
CHANNELS = {"CMYK": 4, "RGB ": 3, "GRAY": 1}

debian = pytest.mark.tools("transicc", outside_tools.PROFILES)
real = pytest.mark.parametrize(
    "path",
    [
        *(pytest.param(name, marks=debian) for name in DEBIAN),
        *(pytest.param(name, marks=pytest.mark.tools("transicc")) for name in OWN),
    ],
    indirect=True,
)


@pytest.fixture
def path(request, fogra39_path, paper_profiles, tmp_path):
    if request.param in DEBIAN:
        return outside_tools.profiles_folder() / request.param
    own = {
        "RGB version 2": paper_profiles["Fen Cotton 310"].data,
        "RGB version 4": paper_profiles["Sorrel Gloss 255"].data,
        "grey": grey_output_profile().data,
        "FOGRA39": fogra39_path.read_bytes(),
    }
    file = tmp_path / "own.icc"
    file.write_bytes(own[request.param])
    return file


@pytest.fixture(scope="module")
def judge(studio):
    """Judged for the demo's printer, with the driver that takes its colours."""
    known = {}

    def judged(path):
        data = Path(path).read_bytes()
        takes = DriverColour.CMYK if data[16:20] == b"CMYK" else DriverColour.RGB
        by = replace(studio.book.printers[0], driver_colour=takes)
        if data not in known:
            known[data] = judge_profile(path, by)
        return replace(known[data], path=Path(path))

    return judged


class Bytes:
    """What a profile's bytes say, by ICC.1:2022, 7.2 and 7.3."""

    def __init__(self, path):
        self.path, self.data = path, Path(path).read_bytes()
        (count,) = struct.unpack_from(">I", self.data, 128)
        rows = struct.iter_unpack(">4sII", self.data[132 : 132 + 12 * count])
        self.tags = {
            tag.decode(): self.data[start : start + size] for tag, start, size in rows
        }
        self.version = f"{self.data[8]}.{self.data[9] >> 4}"
        self.device_class = self.data[12:16].decode()
        self.space = self.data[16:20].decode()
        self.way = "-t1" if "B2A1" in self.tags or "B2A0" not in self.tags else "-t0"

    def to_lab(self, device, way=None):
        return outside_tools.transicc(
            device, "-i", self.path, "-o", "*Lab", way or self.way
        )

    def to_device(self, lab, *more):
        return outside_tools.transicc(
            lab, "-i", "*Lab", "-o", self.path, self.way, *more
        )

    def greatest_ink_percent(self):
        """Most ink at a grid point of a lut8 or lut16 to the device (10.10, 10.11)."""
        return max(
            _most_of(element)
            for tag, element in self.tags.items()
            if tag in {"B2A0", "B2A1", "B2A2"}
        )


def _most_of(element):
    inputs, outputs, points = element[8:11]
    before, after, start, kind = 256, 256, 48, ">u1"
    if element[:4] == b"mft2":
        before, after = struct.unpack_from(">HH", element, 48)
        start, kind = 52, ">u2"
    codes = np.frombuffer(element, kind, offset=start) / np.iinfo(kind).max
    ends = np.cumsum([inputs * before, points**inputs * outputs, outputs * after])
    _, grid, last, _ = np.split(codes, ends)
    ink = [
        np.interp(channel, np.linspace(0, 1, after), curve)
        for channel, curve in zip(
            grid.reshape(-1, outputs).T, last.reshape(outputs, after), strict=True
        )
    ]
    return 100 * float(np.sum(ink, axis=0).max())


@real
def test_header_and_tables_are_as_the_bytes_have_them(path, judge):
    facts, read = judge(path).quality.facts, Bytes(path)
    assert read.device_class == "prtr"
    assert facts.device_class == "output"
    assert facts.version == read.version
    assert facts.space == read.space.strip()
    assert facts.pcs == read.data[20:24].decode().strip()
    for intent, tag in (("perceptual", "B2A0"), ("saturation", "B2A2")):
        assert (intent in facts.intents) == (tag in read.tags)
    relative = "B2A1" in read.tags or "B2A0" not in read.tags
    assert ("media-relative" in facts.intents) == relative


@real
def test_white_is_what_littlecms_reads(path, judge):
    white = judge(path).quality.facts.white_lab
    read = Bytes(path)
    assert white == pytest.approx(read.to_lab([WHITE[read.space]], "-t3")[0], abs=0.1)


@real
def test_greys_and_black_are_what_littlecms_prints(path, judge):
    """L* 0, 1, … 100 to the device with compensation, and back; 8 bits are not used."""
    quality, read = judge(path).quality, Bytes(path)
    greys = np.arange(101.0)[:, None] * [1, 0, 0]
    device = read.to_device(greys, "-b")
    relative = read.to_lab(device, "-t1")
    chroma = np.hypot(*relative[10:96, 1:].T)
    told = quality.greys[-1]
    assert told.mean_chroma == pytest.approx(chroma.mean(), abs=0.1)
    assert told.worst_chroma == pytest.approx(chroma.max(), abs=0.25)
    black = read.to_lab(device[:1], "-t3")[0]
    assert told.black_lab == pytest.approx(black, abs=0.35)


@real
def test_round_trip_is_what_littlecms_gives(path, judge):
    told, read = judge(path).quality.round_trip, Bytes(path)
    channels = CHANNELS[read.space]
    # As its command line counts: ink in percent, others up to 255.
    full = max(WHITE[read.space]) or 100
    level = np.linspace(0, full, 60 if channels == 1 else 10)
    axes = [level] * min(channels, 3) + [np.zeros(1)] * (channels - 3)
    device = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, channels)
    if channels == 4:
        device = device[device.sum(axis=1) <= read.greatest_ink_percent()]
    there = read.to_lab(device, "-t1")
    back = read.to_lab(
        outside_tools.transicc(there, "-i", "*Lab", "-o", path, "-t1"), "-t1"
    )
    away = colour.difference.delta_E_CIE2000(there, back)
    # A coarser grid than the one told of: its statistics are near, not the same.
    near = {"rel": 0.25, "abs": 0.12}
    assert told.median_delta_e == pytest.approx(np.median(away), **near)
    assert told.p95_delta_e == pytest.approx(np.percentile(away, 95), **near)


@real
def test_ink_is_that_of_the_tables(path, judge):
    read, told = Bytes(path), judge(path).quality.ink_percent
    if read.space != "CMYK":
        assert told is None
        return
    most = read.greatest_ink_percent()
    assert most - 12 < told <= most + 0.1


@real
def test_each_becomes_a_paper_of_the_book(path, judge, tmp_path):
    judged = judge(path)
    (tmp_path / "studio").mkdir()
    book_path = tmp_path / "studio" / "paper-book.toml"
    write_paper_book(PaperBook(printers=(judged.printer,), papers=()), book_path)
    book = read_paper_book(book_path)
    added = add_from_profile(book_path, judged, propose_from(judged, book))
    (paper,) = read_paper_book(book_path).papers
    assert paper == added.paper
    copy = Path(paper.on_printer[0].profile)
    assert copy.read_bytes() == Path(path).read_bytes()
    assert copy.parent == book_path.parent / "profiles"


@pytest.mark.tools(outside_tools.PROFILES)
@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("default_gray.icc", "of class 'mntr'"),
        ("test4.icc", "of class 'spac'"),
        ("toosmall.icc", "damaged"),
        ("bad_mpe.icc", "damaged"),
    ],
)
def test_other_real_files_are_refused(name, problem, judge):
    with pytest.raises(ProfileError, match=problem) as caught:
        judge(outside_tools.profiles_folder() / name)
    assert caught.value.remedy


@pytest.mark.tools("linkicc")
def test_a_real_device_link_is_refused(judge, fogra39_path, tmp_path):
    outside_tools.need("linkicc")
    link = tmp_path / "link.icc"
    subprocess.run(
        ["linkicc", "-o", str(link), str(fogra39_path), str(fogra39_path)],
        check=True,
        capture_output=True,
    )
    with pytest.raises(ProfileError, match="of class 'link'"):
        judge(link)


@pytest.mark.tools(outside_tools.PROFILES)
def test_a_cut_download_is_refused(judge, tmp_path):
    whole = (outside_tools.profiles_folder() / "TestCLT.icc").read_bytes()
    part = tmp_path / "part.icc"
    part.write_bytes(whole[: len(whole) // 3])
    with pytest.raises(ProfileError, match="declares"):
        judge(part)
