"""The finished file: what it holds, and that it appears whole or not at all."""

import errno
import hashlib
import os
import re
import resource
import subprocess
import threading
import tracemalloc
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from xml.etree import ElementTree as ET

import imagecodecs
import numpy as np
import pikepdf
import pytest
import tifffile
from blake3 import blake3
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from outside_tools import need
from PIL import Image, JpegImagePlugin

from printplan.colour.profiles import open_profile, profile_from_bytes
from printplan.colour.spaces import named_profile
from printplan.errors import RenderError, SpecError
from printplan.pixels import file_formats, own_files, render
from printplan.pixels.master import open_master
from printplan.pixels.picture_file import FileForm, file_form
from printplan.pixels.sheet import build_sheet
from printplan.sizing.boxes import Box
from printplan.spec import Delivery, DeliverySpec, Extent, FileFormat, NamedSpace
from printplan.units import px_from_mm, whole_px

DATA = Path(__file__).parent / "data"
# Grey of D50's chromaticity (ICC.1, from memory); any sound grey profile will do.
PROFILES = {
    1: profile_from_bytes(
        imagecodecs.cms_profile("gray", whitepoint=(0.3457, 0.3585, 1.0), gamma=2.2),
        where="a grey profile",
    ),
    3: named_profile(NamedSpace.OPRGB),
    4: open_profile(DATA / "FOGRA39L_coated.icc"),
}
SUFFIX = {"tiff-16": ".tif", "tiff-8": ".tif", "jpeg": ".jpg", "pdf": ".pdf"}
# A4, ISO 216:2007, and the 13 × 19 in sheet: 330.2 × 482.6 mm by the inch's
# definition.
A4_MM, SHEET_13X19_MM = (210.0, 297.0), (330.2, 482.6)


class BandsOf:
    """Stands in for a sheet: the bands of an array."""

    def __init__(
        self,
        pixels,
        file_format="tiff-16",
        *,
        ppi=360.0,
        page_mm=None,
        cuts=(),
        creator="Ina Børne",
        notice="© 2031 Ina Børne <studio & archive>",
        master="no-such-master.tif",
    ):
        self.pixels = pixels
        self.size_px = (pixels.shape[1], pixels.shape[0])
        self.channels = pixels.shape[2]
        self.dtype = pixels.dtype
        self.profile = PROFILES[self.channels]
        self.cuts = cuts
        named = {"colour": Delivery.NAMED_SPACE, "named_space": NamedSpace.OPRGB}
        self.plan = SimpleNamespace(
            ppi=ppi,
            page_mm=page_mm or tuple(edge * 25.4 / ppi for edge in self.size_px),
            most_file_bytes=None,
            delivery=DeliverySpec(
                file_format=FileFormat(file_format),
                **(named if file_format == "jpeg" else {}),
            ),
        )
        self.master = SimpleNamespace(
            facts=SimpleNamespace(
                path=str(master), creator=creator, copyright_notice=notice
            )
        )

    def bands(self):
        edges = [0, *sorted(set(self.cuts)), len(self.pixels)]
        for top, bottom in pairwise(edges):
            yield top, self.pixels[top:bottom]


def grain(rows=61, columns=47, channels=3, bits=16):
    """Values of all depths, no two rows alike."""
    generator = np.random.default_rng(rows * columns + channels)
    return generator.integers(
        0, 2**bits, (rows, columns, channels), np.dtype(f"u{bits // 8}")
    )


def slope(rows=80, columns=120):
    """A smooth picture, which a JPEG keeps."""
    down, across = np.mgrid[0:rows, 0:columns]
    planes = (across * 2, down * 3, 255 - across - down)
    return np.stack(planes, axis=-1).clip(0, 255).astype(np.uint8)


def sheet_of(file_format, **options):
    if file_format == "jpeg":
        return BandsOf(slope(), file_format, **options)
    bits = 8 if file_format == "tiff-8" else 16
    return BandsOf(grain(bits=bits), file_format, **options)


def names_in(folder):
    return sorted(path.name for path in folder.iterdir())


def by_libtiff(path):
    """Pixels as libtiff reads them: its own program decodes and compresses them."""
    need("tiffcp")
    copy = path.with_name("copied by libtiff")
    told = subprocess.run(
        ["tiffcp", "-c", "lzw", path, copy], capture_output=True, text=True, check=True
    )
    assert told.stderr == ""
    return tifffile.imread(copy)


# What a TIFF holds ---------------------------------------------------------------


@pytest.mark.tools("tiffcp")
@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("channels", [1, 3, 4])
def test_tiff_reads_alike_in_three_readers(tmp_path, channels, bits):
    pixels = grain(channels=channels, bits=bits)
    path = tmp_path / "print.tif"
    done = render.render(BandsOf(pixels, f"tiff-{bits}", cuts=(20, 40)), path)

    flat = pixels if channels > 1 else pixels[..., 0]
    assert np.array_equal(tifffile.imread(path), flat)
    assert np.array_equal(by_libtiff(path), flat)
    with Image.open(path) as picture:
        assert picture.size == (47, 61)
        assert picture.info["icc_profile"] == PROFILES[channels].data
        assert picture.info["dpi"] == (360.0, 360.0)
        # Pillow keeps 16 bits of grey, and the high byte of colours.
        seen = np.asarray(picture)
    deep = bits == 16 and channels > 1
    assert np.array_equal(seen, flat >> 8 if deep else flat)
    assert done.pixel_blake3 == blake3(pixels.tobytes()).hexdigest()
    assert done.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert done.bytes_written == path.stat().st_size


@pytest.mark.parametrize(
    ("bits", "file_format"),
    [(8, FileFormat.TIFF_8), (16, FileFormat.TIFF_16), (8, FileFormat.JPEG)],
)
def test_pixels_are_hashed_by_sha_256_too_where_that_is_asked(
    tmp_path, bits, file_format
):
    """Before the file format: those of a JPEG are not the ones that it keeps."""
    pixels = grain(bits=bits)
    page = BandsOf(pixels, file_format, cuts=(20, 40))
    path = tmp_path / f"print{render.ending_of(file_format)}"
    done = render.render(page, path, with_pixel_sha256=True)
    assert done.pixel_sha256 == hashlib.sha256(pixels.tobytes()).hexdigest()
    assert done.pixel_blake3 == blake3(pixels.tobytes()).hexdigest()
    again = render.render(page, path.with_stem("again"))
    assert again.pixel_sha256 == ""
    assert again.pixel_blake3 == done.pixel_blake3


@pytest.mark.tools("tiffinfo")
@pytest.mark.parametrize(
    ("channels", "photometric", "inks"),
    [
        (1, "min-is-black", False),
        (3, "RGB color", False),
        (4, "separated", True),
    ],
)
def test_tiff_states_its_colour_to_libtiff(tmp_path, channels, photometric, inks):
    path = tmp_path / "print.tif"
    render.render(BandsOf(grain(channels=channels), ppi=359.5), path)
    need("tiffinfo")
    told = subprocess.run(
        ["tiffinfo", path], capture_output=True, text=True, check=True
    )
    assert told.stderr == ""
    assert f"Photometric Interpretation: {photometric}" in told.stdout
    assert "Resolution: 359.5, 359.5 pixels/inch" in told.stdout
    assert "Bits/Sample: 16" in told.stdout
    # TIFF 6.0, section 16: InkSet 1 is CMYK.
    assert ("InkSet: 1" in told.stdout) is inks
    assert ("NumberOfInks: 4" in told.stdout) is inks


@pytest.mark.parametrize(
    ("ppi", "rational"),
    [
        (300.0, (300, 1)),
        (359.5, (719, 2)),
        (240.1, (2401, 10)),
        (100 / 3, (100, 3)),
        (2400.0, (2400, 1)),
    ],
)
def test_tiff_resolution_is_an_exact_fraction(tmp_path, ppi, rational):
    path = tmp_path / "print.tif"
    done = render.render(BandsOf(grain(), ppi=ppi), path)
    with tifffile.TiffFile(path) as tiff:
        tags = tiff.pages.first.tags
        assert tags["XResolution"].value == rational
        assert tags["YResolution"].value == rational
        assert tags["ResolutionUnit"].value == 2  # inch: TIFF 6.0, section 8
    assert done.ppi == ppi


@given(st.floats(30, 2400))
def test_resolution_fits_tiff_and_is_off_by_less_than_a_molecule(ppi):
    form = file_form(BandsOf(grain(1, 1), ppi=ppi))
    assert max(form.ppi.numerator, form.ppi.denominator) < 2**32
    # Over the longest print taken, 60 m: below a nanometre.
    assert 60e9 * abs(form.ppi / Fraction(ppi) - 1) < 1


@pytest.mark.parametrize("ppi", [254.0, 300.0, 359.5, 360.0])
@pytest.mark.parametrize("paper_mm", [A4_MM, SHEET_13X19_MM], ids=["A4", "13x19"])
def test_rendered_size_is_the_paper_within_half_a_pixel(tmp_path, paper_mm, ppi):
    # One channel and one row of tiles is enough: the sizes are what is tested.
    width, height = (whole_px(px_from_mm(edge, ppi)) for edge in paper_mm)
    white = np.broadcast_to(np.uint8(255), (height, width, 1))
    path = tmp_path / "print.tif"
    done = render.render(BandsOf(white, "tiff-8", ppi=ppi, page_mm=paper_mm), path)
    half_px_mm = 25.4 / ppi / 2
    assert abs(done.width_mm - paper_mm[0]) <= half_px_mm
    assert abs(done.height_mm - paper_mm[1]) <= half_px_mm
    with Image.open(path) as picture:
        for edge_px, per_inch, edge_mm in zip(
            picture.size, picture.info["dpi"], paper_mm, strict=True
        ):
            assert abs(edge_px / float(per_inch) * 25.4 - edge_mm) <= half_px_mm


def test_tiff_strips_are_tens_of_rows(tmp_path):
    path = tmp_path / "print.tif"
    render.render(BandsOf(grain(rows=70, columns=4320), cuts=(33,)), path)
    with tifffile.TiffFile(path) as tiff:
        page = tiff.pages.first
        assert 10 <= page.rowsperstrip < 70
        assert len(page.dataoffsets) == -(-70 // page.rowsperstrip)


def test_tiff_has_no_tag_beyond_those_needed(tmp_path):
    """No date, no place, no camera: only what the print needs, and whose it is."""
    path = tmp_path / "print.tif"
    render.render(BandsOf(grain()), path)
    with tifffile.TiffFile(path) as tiff:
        assert len(tiff.pages) == 1
        found = {tag.name: tag.value for tag in tiff.pages.first.tags}
    # Its version would change the file's hash where no pixel changed.
    assert found["Software"] == "printplan"
    assert set(found) == {
        *("ImageWidth", "ImageLength", "BitsPerSample", "SamplesPerPixel"),
        *("Compression", "PhotometricInterpretation", "PlanarConfiguration"),
        *("StripOffsets", "StripByteCounts", "RowsPerStrip"),
        *("XResolution", "YResolution", "ResolutionUnit", "InterColorProfile"),
        *("Software", "Artist", "Copyright", "XMP"),
    }


def test_tiff_without_maker_says_nothing_of_one(tmp_path):
    path = tmp_path / "print.tif"
    render.render(BandsOf(grain(), creator="", notice=""), path)
    with tifffile.TiffFile(path) as tiff:
        tags = tiff.pages.first.tags
        assert not [code for code in (315, 33432, 700) if code in tags]


def credits_of(packet):
    """Creator and rights out of a metadata packet (ISO 16684-1, 8.3)."""
    root = ET.fromstring(packet)  # noqa: S314 - written by the code under test
    items = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}li"
    dublin = "{http://purl.org/dc/elements/1.1/}"
    return tuple(
        root.find(f".//{dublin}{name}//{items}").text for name in ("creator", "rights")
    )


@pytest.mark.parametrize("name", ["Ina Børne", "伊奈 <ぼ> & נינה", "A\nB\x00C\ud800"])
def test_tiff_carries_maker_and_notice(tmp_path, name):
    path = tmp_path / "print.tif"
    render.render(BandsOf(grain(), creator=name, notice=f"© {name}"), path)
    one_line = re.sub("[\n\x00\ud800]+", " ", name).strip()
    with tifffile.TiffFile(path) as tiff:
        tags = tiff.pages.first.tags
        assert tags["Artist"].value == one_line
        assert tags["Copyright"].value == f"© {one_line}"
        assert credits_of(tags["XMP"].value) == (one_line, f"© {one_line}")
    with Image.open(path) as picture:  # decodes these tags as Latin-1
        assert picture.tag_v2[315].encode("latin-1").decode() == one_line


def test_place_of_the_master_stays_behind(tmp_path):
    """Its maker is carried over, from a photograph that says where it was taken."""
    exif = Image.Exif()
    exif[315], exif[33432] = b"Ina B\xc3\xb8rne", b"\xc2\xa9 2031"
    exif[34853] = {1: "N", 2: (52.0, 30.0, 0.0), 3: "E", 4: (1.0, 5.0, 0.0)}
    path = tmp_path / "master.jpg"
    Image.fromarray(slope()).save(path, exif=exif, icc_profile=PROFILES[3].data)
    with open_master(path) as master:
        assert master.facts.has_location
        for file_format, suffix in SUFFIX.items():
            sheet = sheet_of(file_format)
            sheet.master = master
            render.render(sheet, tmp_path / f"{file_format}{suffix}")
    for name in ("tiff-16.tif", "tiff-8.tif", "jpeg.jpg"):
        with Image.open(tmp_path / name) as picture:
            tags = picture.getexif()
            assert tags[315].encode("latin-1").decode() == "Ina Børne"
            assert tags[33432].encode("latin-1").decode() == "© 2031"
            assert 34853 not in tags  # GPS, Exif 3.0
    with pikepdf.open(tmp_path / "pdf.pdf") as pdf:
        assert str(pdf.docinfo.Author) == "Ina Børne"


# One sheet, one file ---------------------------------------------------------------


@pytest.mark.parametrize("file_format", SUFFIX)
def test_same_sheet_gives_same_bytes(tmp_path, file_format):
    """Whatever the file is called, and whenever it is made."""
    one = tmp_path / f"one{SUFFIX[file_format]}"
    two = tmp_path / f"two{SUFFIX[file_format]}"
    first = render.render(sheet_of(file_format), one)
    second = render.render(sheet_of(file_format), two)
    assert one.read_bytes() == two.read_bytes()
    assert replace(first, path=two) == second
    assert first.path == one
    assert first.file_format is FileFormat(file_format)


@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(cuts=st.sets(st.integers(1, 60), max_size=6))
@pytest.mark.parametrize("file_format", ["tiff-16", "pdf"])
def test_cut_into_bands_does_not_show(tmp_path, file_format, cuts):
    path = tmp_path / f"print{SUFFIX[file_format]}"
    whole = render.render(sheet_of(file_format), path, overwrite=True)
    cut = render.render(sheet_of(file_format, cuts=cuts), path, overwrite=True)
    assert cut == whole


@pytest.mark.parametrize("file_format", ["tiff-16", "pdf"])
def test_memory_does_not_grow_with_the_picture(tmp_path, file_format):
    """A file of 30 MB is written from bands of 0.6 MB in less than 8 MB."""
    band = grain(rows=50, columns=2000)

    class Tall(BandsOf):
        def bands(self):
            for top in range(0, 2500, 50):
                yield top, band

    sheet = Tall(np.broadcast_to(band[:1], (2500, 2000, 3)), file_format)
    tracemalloc.start()
    try:
        done = render.render(sheet, tmp_path / f"print{SUFFIX[file_format]}")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert done.height_px * done.width_px * 6 == 30_000_000
    assert peak < 8_000_000


@pytest.mark.parametrize("file_format", SUFFIX)
def test_real_sheet_is_written_as_its_window(
    tmp_path, master_of, plan_for, textured, file_format
):
    named = {"colour": Delivery.NAMED_SPACE, "named_space": NamedSpace.OPRGB}
    delivery = DeliverySpec(
        file_format=FileFormat(file_format),
        extent=Extent.PICTURE,
        **(named if file_format == "jpeg" else {}),
    )
    master = master_of(textured)
    plan = plan_for(master, width_mm=40, border_mm=2, delivery=delivery)
    sheet = build_sheet(master, plan)
    done = render.render(sheet, tmp_path / f"print{SUFFIX[file_format]}")
    whole = sheet.window(Box(0, 0, *sheet.size_px))
    assert done.pixel_blake3 == blake3(whole.tobytes()).hexdigest()
    assert (done.width_px, done.height_px) == sheet.size_px
    if file_format.startswith("tiff"):
        assert np.array_equal(tifffile.imread(done.path), whole)


# Large files -----------------------------------------------------------------------


def form_of(width_px, height_px, channels=3, bits=16):
    return FileForm(
        file_format=FileFormat.TIFF_16,
        width_px=width_px,
        height_px=height_px,
        channels=channels,
        bits=bits,
        ppi=Fraction(360),
        page_mm=(width_px * 25.4 / 360, height_px * 25.4 / 360),
        profile=PROFILES[3],
        creator="",
        copyright_notice="",
    )


@pytest.mark.parametrize(
    ("width_px", "height_px", "channels", "big"),
    [
        (12_000, 18_000, 3, False),  # 1.3 GB
        (24_000, 29_000, 3, False),  # 4.176 GB of 4.295
        (24_000, 29_800, 3, True),  # 4.291 GB: no room for the head
        (24_000, 30_000, 3, True),  # 4.32 GB
        (24_000, 22_500, 4, True),
        (40_000, 50_000, 3, True),
    ],
)
def test_bigtiff_begins_below_four_gibibytes(width_px, height_px, channels, big):
    # TIFF 6.0, section 2: offsets are 32-bit counts of bytes.
    assert file_formats.needs_bigtiff(form_of(width_px, height_px, channels)) is big


@pytest.mark.tools("tiffcp")
@pytest.mark.parametrize("channels", [1, 3, 4])
def test_bigtiff_reads_alike_in_three_readers(tmp_path, monkeypatch, channels):
    monkeypatch.setattr(file_formats, "LARGEST_CLASSIC_BYTES", 1000)
    pixels = grain(channels=channels)
    path = tmp_path / "print.tif"
    render.render(BandsOf(pixels), path)
    # Version 43 (BigTIFF), low byte first.
    assert path.read_bytes()[:4] == b"II\x2b\x00"
    flat = pixels if channels > 1 else pixels[..., 0]
    assert np.array_equal(tifffile.imread(path), flat)
    assert np.array_equal(by_libtiff(path), flat)
    with Image.open(path) as picture:
        assert picture.size == (47, 61)
        assert picture.info["icc_profile"] == PROFILES[channels].data


# What a JPEG holds -----------------------------------------------------------------


@pytest.mark.parametrize("channels", [1, 3])
def test_jpeg_shows_the_picture_in_two_readers(tmp_path, channels):
    pixels = np.ascontiguousarray(slope()[..., :channels])
    path = tmp_path / "print.jpg"
    done = render.render(BandsOf(pixels, "jpeg", cuts=(7, 50)), path)
    flat = pixels if channels > 1 else pixels[..., 0]
    with Image.open(path) as picture:
        assert picture.info["icc_profile"] == PROFILES[channels].data
        assert picture.info["dpi"] == (360, 360)
        if channels == 3:
            # 0 is 4:4:4, no chroma subsampling
            assert JpegImagePlugin.get_sampling(picture) == 0
        seen = np.asarray(picture)
    for found in (seen, imagecodecs.jpeg_decode(path.read_bytes())):
        error = np.abs(found.astype(int) - flat)
        # A smooth slope at quality 95: a few codes. Our choice of tolerance.
        assert error.max() <= 8
        assert error.mean() < 1.5
    assert done.pixel_blake3 == blake3(pixels.tobytes()).hexdigest()


@pytest.mark.parametrize(
    ("ppi", "unit", "density"), [(300.0, 1, (300, 300)), (359.5, 0, (1, 1))]
)
def test_jpeg_resolution_is_exact_or_left_to_exif(tmp_path, ppi, unit, density):
    """JFIF has whole numbers only: a rounded one would give a wrong size."""
    path = tmp_path / "print.jpg"
    render.render(sheet_of("jpeg", ppi=ppi), path)
    with Image.open(path) as picture:
        assert picture.info["jfif_unit"] == unit
        assert picture.info["jfif_density"] == density
        exif = picture.getexif()
        assert Fraction(exif[282]) == Fraction(exif[283]) == Fraction(ppi)
        assert exif[296] == 2
        assert float(picture.info["dpi"][0]) == ppi


def test_jpeg_quantises_as_finely_as_stated(tmp_path):
    # ITU-T T.81 (1992), table K.1, first row; libjpeg's quality 95 is a tenth of it,
    # rounded (jpeg_quality_scaling, from memory).
    first_row = np.array([16, 11, 10, 16, 24, 40, 51, 61])
    path = tmp_path / "print.jpg"
    render.render(sheet_of("jpeg"), path)
    with Image.open(path) as picture:
        found = picture.quantization[0][:8]
    assert list(found) == list((first_row * 10 + 50) // 100)


def test_jpeg_carries_maker_and_notice_and_no_more(tmp_path):
    path = tmp_path / "print.jpg"
    render.render(sheet_of("jpeg"), path)
    with Image.open(path) as picture:
        exif = picture.getexif()
        assert set(exif) == {282, 283, 296, 315, 33432}
        assert exif.get_ifd(34853) == {}  # GPS
        assert exif[315].encode("latin-1").decode() == "Ina Børne"
        assert credits_of(picture.info["xmp"]) == (
            "Ina Børne",
            "© 2031 Ina Børne <studio & archive>",
        )


def test_jpeg_refuses_what_libjpeg_cannot_hold(tmp_path):
    asked = []
    long = BandsOf(np.broadcast_to(np.uint8(9), (2, 65_501, 3)), "jpeg", ppi=300)
    long.bands = lambda: asked.append("bands")
    with pytest.raises(RenderError, match='format "TIFF, 8 bits", or 299'):
        render.render(long, tmp_path / "print.jpg")
    assert not asked
    assert names_in(tmp_path) == []


def test_jpeg_of_longest_edge_is_made(tmp_path):
    longest = np.broadcast_to(np.uint8(90), (1, 65_500, 3))
    done = render.render(BandsOf(longest, "jpeg"), tmp_path / "print.jpg")
    assert done.width_px == 65_500


def test_jpeg_refuses_ink_channels(tmp_path):
    with pytest.raises(RenderError, match='format "TIFF, 8 bits"'):
        render.render(BandsOf(grain(channels=4, bits=8), "jpeg"), tmp_path / "p.jpg")
    assert names_in(tmp_path) == []


def test_jpeg_refuses_a_notice_longer_than_exif_holds(tmp_path):
    with pytest.raises(RenderError, match="shorten the copyright notice"):
        render.render(sheet_of("jpeg", notice="n" * 70_000), tmp_path / "print.jpg")
    assert names_in(tmp_path) == []


def test_jpeg_beyond_memory_names_tiff(tmp_path, monkeypatch):
    def no_memory(*_):
        raise MemoryError

    monkeypatch.setattr(file_formats.Image, "new", no_memory)
    with pytest.raises(RenderError, match='"TIFF, 8 bits", which is written in bands'):
        render.render(sheet_of("jpeg"), tmp_path / "print.jpg")
    assert names_in(tmp_path) == []


def test_jpeg_larger_than_pillow_trusts_is_read_back(tmp_path, monkeypatch):
    """Pillow warns of pictures that could be an attack; ours is our own."""
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 100)
    done = render.render(sheet_of("jpeg"), tmp_path / "print.jpg")
    assert done.width_px == 120


# Whole or not at all ---------------------------------------------------------------


@pytest.mark.parametrize("file_format", SUFFIX)
@pytest.mark.parametrize("error", [KeyboardInterrupt, SpecError, OSError, ValueError])
def test_render_ended_by_its_progress_leaves_nothing(tmp_path, file_format, error):
    """Whatever the progress raises comes out as it is."""
    thrown = error("stop", remedy="Go on.") if error is SpecError else error("stop")

    def stop_half_way(done_rows, all_rows):
        if 0 < done_rows < all_rows:
            assert len(names_in(tmp_path)) == 1
            raise thrown

    target = tmp_path / f"print{SUFFIX[file_format]}"
    with pytest.raises(error) as caught:
        render.render(sheet_of(file_format, cuts=(30,)), target, progress=stop_half_way)
    assert caught.value is thrown
    assert names_in(tmp_path) == []


def test_nobody_waits_while_the_disk_frees_what_an_unfinished_file_held(
    tmp_path, monkeypatch
):
    freed, may_free = threading.Event(), threading.Event()
    close = os.close

    def close_slowly(handle):
        may_free.wait()
        close(handle)
        freed.set()

    def stop_half_way(done_rows, _all_rows):
        if done_rows:
            monkeypatch.setattr(os, "close", close_slowly)
            raise KeyboardInterrupt

    sheet = sheet_of(FileFormat.TIFF_16, cuts=(30,))
    with pytest.raises(KeyboardInterrupt):
        render.render(sheet, tmp_path / "print.tif", progress=stop_half_way)
    assert names_in(tmp_path) == []
    assert not freed.is_set()
    may_free.set()
    assert freed.wait(10)


@pytest.mark.parametrize("file_format", SUFFIX)
def test_failing_sheet_leaves_nothing_and_keeps_the_old_file(tmp_path, file_format):
    target = tmp_path / f"print{SUFFIX[file_format]}"
    render.render(sheet_of(file_format), target)
    earlier = target.read_bytes()
    closed = []

    class Failing(BandsOf):
        def bands(self):
            try:
                yield 0, self.pixels[:10]
                raise SpecError("The sheet broke.", remedy="Mend it.")
            finally:
                closed.append(True)

    whole = sheet_of(file_format)
    with pytest.raises(SpecError, match="Mend it"):
        render.render(Failing(whole.pixels, file_format), target, overwrite=True)
    assert closed
    assert names_in(tmp_path) == [target.name]
    assert target.read_bytes() == earlier


def test_failing_disk_stops_a_sheet_that_computes_ahead(tmp_path):
    closed = []

    class Ahead(BandsOf):
        def bands(self):
            try:
                yield from super().bands()
            finally:
                closed.append(True)

    sheet = Ahead(grain(), cuts=(10, 20))
    with file_limit(2000), pytest.raises(RenderError, match="another disk") as caught:
        render.render(sheet, tmp_path / "print.tif")
    assert closed, caught


@contextmanager
def file_limit(length):
    """Have the system refuse longer files."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (length, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize(
    "bands",
    [
        [(0, slice(0, 30))],
        [(0, slice(0, 30)), (40, slice(40, 61))],
        [(0, slice(0, 61)), (61, slice(0, 1))],
        [(0, slice(0, 0)), (0, slice(0, 61))],
        [(31, slice(31, 61)), (0, slice(0, 31))],
    ],
    ids=["ends-early", "gap", "too-long", "empty-band", "bottom-first"],
)
@pytest.mark.parametrize("file_format", ["tiff-16", "pdf"])
def test_sheet_that_does_not_cover_the_file_is_refused(tmp_path, file_format, bands):
    sheet = sheet_of(file_format)
    sheet.bands = lambda: ((top, sheet.pixels[rows]) for top, rows in bands)
    with pytest.raises(RenderError, match="Build the sheet again"):
        render.render(sheet, tmp_path / f"print{SUFFIX[file_format]}")
    assert names_in(tmp_path) == []


@pytest.mark.parametrize("file_format", SUFFIX)
@pytest.mark.parametrize("where", ["head", "middle", "end", "cut off"])
def test_damage_on_the_disk_is_found(tmp_path, monkeypatch, file_format, where):
    """One byte changed between writing and reading back, or the last one lost."""

    def spoil(descriptor):
        length = os.fstat(descriptor).st_size
        if where == "cut off":
            os.ftruncate(descriptor, length - 1)
            return
        at = {"head": 3, "middle": length // 2, "end": length - 3}[where]
        (part,) = tmp_path.iterdir()
        byte = part.read_bytes()[at]
        os.pwrite(descriptor, bytes([byte ^ 0x10]), at)

    monkeypatch.setattr(os, "fsync", spoil)
    with pytest.raises(RenderError, match="Render it again"):
        render.render(sheet_of(file_format), tmp_path / f"print{SUFFIX[file_format]}")
    assert names_in(tmp_path) == []


@pytest.mark.parametrize("tag", ["XResolution", "InterColorProfile", "ImageLength"])
def test_damaged_tag_is_found(tmp_path, monkeypatch, tag):
    def spoil(descriptor):
        (part,) = tmp_path.iterdir()
        with tifffile.TiffFile(part) as tiff:
            at = tiff.pages.first.tags[tag].valueoffset
        byte = part.read_bytes()[at]
        os.pwrite(descriptor, bytes([byte ^ 1]), at)

    monkeypatch.setattr(os, "fsync", spoil)
    with pytest.raises(RenderError, match=f"{tag}.*Render it again"):
        render.render(BandsOf(grain()), tmp_path / "print.tif")
    assert names_in(tmp_path) == []


# The disk --------------------------------------------------------------------------


@pytest.mark.parametrize("file_format", SUFFIX)
def test_disk_that_fills_names_the_space_needed(tmp_path, monkeypatch, file_format):
    # A disk may take bytes into memory and find itself full when told to keep them.
    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RenderError, match=r"Free 0\.0 MB there, or choose a folder"):
        render.render(sheet_of(file_format), tmp_path / f"print{SUFFIX[file_format]}")
    assert names_in(tmp_path) == []


@pytest.mark.parametrize("file_format", SUFFIX)
def test_disk_that_stops_taking_bytes_leaves_nothing(tmp_path, file_format):
    """A real refusal of the system: no file may grow beyond 2000 bytes."""
    sheet = sheet_of(file_format, cuts=(30,), notice="n" * 3000)
    target = tmp_path / f"print{SUFFIX[file_format]}"
    with file_limit(2000), pytest.raises(RenderError, match="on another disk"):
        render.render(sheet, target)
    assert names_in(tmp_path) == []


def test_small_disk_is_found_before_any_pixel(tmp_path, monkeypatch):
    monkeypatch.setattr(
        render.shutil, "disk_usage", lambda _: SimpleNamespace(free=1_000_000)
    )
    sheet = BandsOf(grain(rows=600, columns=500))  # 1.8 MB
    sheet.bands = None
    with pytest.raises(RenderError, match=r"1\.0 MB free.*Free 1\.8 MB there"):
        render.render(sheet, tmp_path / "print.tif")
    assert names_in(tmp_path) == []


# Names -----------------------------------------------------------------------------


@pytest.mark.parametrize("file_format", SUFFIX)
def test_nothing_is_overwritten_unasked(tmp_path, file_format):
    target = tmp_path / f"print{SUFFIX[file_format]}"
    earlier = render.render(sheet_of(file_format, creator="An earlier print"), target)
    refused = sheet_of(file_format)
    refused.bands = None  # refused before any pixel is asked for
    with pytest.raises(RenderError, match=r"another name\. In Python: overwrite=True"):
        render.render(refused, target)
    assert earlier.sha256 == hashlib.sha256(target.read_bytes()).hexdigest()
    done = render.render(sheet_of(file_format), target, overwrite=True)
    assert done.sha256 == hashlib.sha256(target.read_bytes()).hexdigest()
    assert names_in(tmp_path) == [target.name]


def test_file_that_appears_meanwhile_is_kept(tmp_path):
    target = tmp_path / "print.tif"

    def somebody_else(done_rows, all_rows):
        if done_rows == all_rows:
            target.write_bytes(b"another's print")

    with pytest.raises(RenderError, match=r"another name\. In Python: overwrite=True"):
        render.render(BandsOf(grain()), target, progress=somebody_else)
    assert target.read_bytes() == b"another's print"
    assert names_in(tmp_path) == ["print.tif"]


def test_temporary_name_that_is_taken_is_left_alone(tmp_path, monkeypatch):
    taken = tmp_path / ".printplan-0.part"
    monkeypatch.setattr(render, "part_path", lambda _: taken)
    taken.write_bytes(b"another's work")
    with pytest.raises(RenderError, match="choose a folder on another disk"):
        render.render(BandsOf(grain()), tmp_path / "print.tif")
    assert taken.read_bytes() == b"another's work"
    assert names_in(tmp_path) == [taken.name]


@pytest.mark.parametrize("links", ["links", "no links"])
def test_file_that_appears_at_the_last_moment_is_kept(tmp_path, monkeypatch, links):
    """Not even between the last look and the naming."""
    target, part = tmp_path / "print.tif", tmp_path / "part"
    part.write_bytes(b"ours")
    target.write_bytes(b"another's print")
    if links == "no links":
        monkeypatch.setattr(os, "link", no_links)
    with pytest.raises(RenderError, match=r"another name\. In Python: overwrite=True"):
        render._publish(part, target, overwrite=False)
    assert target.read_bytes() == b"another's print"


def no_links(*_):
    raise OSError(errno.EPERM, os.strerror(errno.EPERM))


def test_disk_without_hard_links_gets_the_file_too(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "link", no_links)
    done = render.render(BandsOf(grain()), tmp_path / "print.tif")
    assert np.array_equal(tifffile.imread(done.path), grain())
    assert names_in(tmp_path) == ["print.tif"]


def test_failed_naming_leaves_nothing(tmp_path, monkeypatch):
    def fails(*_):
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(render.Path, "replace", fails)
    with pytest.raises(RenderError, match="Check the disk or the connection"):
        render.render(BandsOf(grain()), tmp_path / "print.tif")
    assert names_in(tmp_path) == []


@pytest.mark.parametrize("way", ["itself", "symbolic link", "hard link", "dots"])
@pytest.mark.parametrize("overwrite", [False, True])
def test_master_is_never_the_target(tmp_path, way, overwrite):
    master = tmp_path / "master.tif"
    master.write_bytes(b"the negative")
    target = tmp_path / "print.tif"
    if way == "itself":
        target = master
    elif way == "symbolic link":
        target.symlink_to(master)
    elif way == "hard link":
        target.hardlink_to(master)
    else:
        (tmp_path / "sub").mkdir()
        target = tmp_path / "sub" / ".." / "master.tif"
    with pytest.raises(RenderError, match="a master is never written to"):
        render.render(BandsOf(grain(), master=master), target, overwrite=overwrite)
    assert master.read_bytes() == b"the negative"
    assert not [name for name in names_in(tmp_path) if name.endswith(".part")]


def test_target_that_becomes_the_master_meanwhile_is_kept(tmp_path):
    master, target = tmp_path / "master.tif", tmp_path / "print.tif"
    master.write_bytes(b"the negative")

    def somebody_else(done_rows, all_rows):
        if done_rows == all_rows:
            target.hardlink_to(master)

    with pytest.raises(RenderError, match="a master is never written to"):
        render.render(
            BandsOf(grain(), master=master),
            target,
            overwrite=True,
            progress=somebody_else,
        )
    assert target.samefile(master)
    assert names_in(tmp_path) == ["master.tif", "print.tif"]


def originals(folder):
    """Files that somebody else wrote, of the kinds that a print may be named after."""
    picture = Image.fromarray(grain(bits=8))
    for name in ("another.tif", "another.png", "another.jpg"):
        picture.save(folder / name)
    (folder / "another.toml").write_text('format = "printplan record"\n')
    (folder / "empty").touch()
    return sorted(folder.glob("*[!.]*"))


@pytest.mark.parametrize("way", ["itself", "symbolic link", "hard link"])
def test_what_others_wrote_is_replaced_by_no_option(tmp_path, way):
    """Another original under the target's name, whatever it holds."""
    folder = tmp_path / "prints"
    folder.mkdir()
    for number, other in enumerate(originals(tmp_path)):
        if not other.is_file():
            continue
        before = other.read_bytes()
        target = folder / f"print-{number}.tif"
        if way == "itself":
            target.write_bytes(before)
        elif way == "symbolic link":
            target.symlink_to(other)
        else:
            target.hardlink_to(other)
        sheet = BandsOf(grain())
        sheet.bands = None  # refused before any pixel is asked for
        with pytest.raises(RenderError, match=r"delete it yourself|export it again"):
            render.render(sheet, target, overwrite=True)
        assert target.read_bytes() == other.read_bytes() == before
        assert target.is_symlink() == (way == "symbolic link")


@pytest.mark.parametrize("file_format", SUFFIX)
def test_file_of_ours_that_was_edited_since_is_kept(tmp_path, file_format):
    target = tmp_path / f"print{SUFFIX[file_format]}"
    render.render(sheet_of(file_format), target)
    with target.open("r+b") as file:
        file.seek(-1, os.SEEK_END)
        last = file.read(1)[0]
        file.seek(-1, os.SEEK_END)
        file.write(bytes([last ^ 1]))
    edited = target.read_bytes()
    with pytest.raises(RenderError, match="or was changed since"):
        render.render(sheet_of(file_format), target, overwrite=True)
    assert target.read_bytes() == edited


def test_file_that_is_edited_while_the_new_one_is_made_is_kept(tmp_path):
    target = tmp_path / "print.tif"
    render.render(BandsOf(grain()), target)

    def somebody_else(done_rows, all_rows):
        if done_rows == all_rows:
            target.write_bytes(b"edited")

    with pytest.raises(RenderError, match="or was changed since"):
        render.render(BandsOf(grain()), target, overwrite=True, progress=somebody_else)
    assert target.read_bytes() == b"edited"


def test_page_of_ours_that_is_no_print_is_kept(tmp_path):
    """A decision sheet has the ending of a PDF page, and is another thing."""
    target = tmp_path / "print.pdf"
    target.write_bytes(b"a decision sheet")
    sha256 = hashlib.sha256(b"a decision sheet").hexdigest()
    own_files.remember_made(sha256, own_files.OwnFile.DECISION_SHEET)
    assert own_files.is_as_made(target, own_files.OwnFile.DECISION_SHEET)
    with pytest.raises(RenderError, match="delete it yourself"):
        render.render(sheet_of("pdf"), target, overwrite=True)
    assert target.read_bytes() == b"a decision sheet"


def test_profile_counts_in_the_space_that_is_needed(tmp_path, monkeypatch):
    sheet = BandsOf(grain(rows=600, columns=500))
    free = 600 * 500 * 3 * 2 + len(sheet.profile.data) - 1
    monkeypatch.setattr(
        render.shutil, "disk_usage", lambda _: SimpleNamespace(free=free)
    )
    with pytest.raises(RenderError, match="MB free"):
        render.render(sheet, tmp_path / "print.tif")
    free += 1
    render.render(sheet, tmp_path / "print.tif")


def test_record_beside_a_file_vouches_for_it(tmp_path, monkeypatch):
    """On another computer, or when the cache was emptied, the record still knows."""
    target = tmp_path / "print.tif"
    made = render.render(BandsOf(grain()), target)
    monkeypatch.setenv("PRINTPLAN_CACHE", str(tmp_path / "emptied"))
    record = tmp_path / "print.tif.record.toml"
    master = f'[facts]\nsha256 = "{made.sha256}"\n[rendered]\nsha256 = "0"\n'
    for text in ("[rendered", 'rendered = "x"', master):
        record.write_text(text)
        with pytest.raises(RenderError, match="delete it yourself"):
            render.render(BandsOf(grain()), target, overwrite=True)
    record.write_text(f'[rendered]\nsha256 = "{made.sha256}"\n')
    assert render.render(BandsOf(grain()), target, overwrite=True) == made


@pytest.mark.parametrize(
    ("name", "remedy"),
    [
        ("no-such-folder/print.tif", "Make the folder first"),
        ("a-file/print.tif", "Make the folder first"),
        ("a-folder.tif", "Choose another name"),
        ("dangling.tif", "Choose another name"),
        ("x" * 300 + ".tif", "a usual file name"),
        ("/proc/print.tif", "Choose a folder|choose a folder"),
        ("/dev/null.tif/print.tif", "Make the folder first"),
    ],
)
@pytest.mark.parametrize("overwrite", [False, True])
def test_impossible_target_is_explained(tmp_path, name, remedy, overwrite):
    (tmp_path / "a-file").write_bytes(b"")
    (tmp_path / "a-folder.tif").mkdir()
    (tmp_path / "dangling.tif").symlink_to(tmp_path / "nowhere")
    before = names_in(tmp_path)
    with pytest.raises(RenderError, match=remedy):
        render.render(BandsOf(grain()), tmp_path / name, overwrite=overwrite)
    assert names_in(tmp_path) == before


def test_folder_that_takes_no_file_is_explained():
    # The kernel's own folder refuses new files, to the superuser too.
    with pytest.raises(RenderError, match="and that you may write to"):
        render.render(sheet_of("pdf"), "/proc/print.pdf")


@pytest.mark.parametrize(
    ("file_format", "name", "better"),
    [
        ("tiff-16", "print.jpg", "print.tif"),
        ("tiff-8", "print", "print.tif"),
        ("jpeg", "print.tif", "print.jpg"),
        ("pdf", "my.print.tiff", "my.print.pdf"),
    ],
)
def test_wrong_ending_is_refused_with_a_right_name(tmp_path, file_format, name, better):
    with pytest.raises(RenderError, match=f"Name it '{re.escape(better)}'"):
        render.render(sheet_of(file_format), tmp_path / name)
    assert names_in(tmp_path) == []


@pytest.mark.parametrize("name", ["PRINT.TIF", "print.tiff", "Ausstellung März.tif"])
def test_usual_endings_and_names_are_taken(tmp_path, name):
    done = render.render(BandsOf(grain()), str(tmp_path / name))
    assert done.path == tmp_path / name
    assert done.path.is_absolute()


def test_file_has_the_rights_of_any_new_file(tmp_path):
    beside = tmp_path / "beside"
    beside.write_bytes(b"")
    done = render.render(BandsOf(grain()), tmp_path / "print.tif")
    assert done.path.stat().st_mode == beside.stat().st_mode


def test_depth_and_format_must_agree(tmp_path):
    with pytest.raises(RenderError, match='format "TIFF, 8 bits"'):
        render.render(BandsOf(grain(bits=8), "tiff-16"), tmp_path / "print.tif")


def test_profile_and_channels_must_agree(tmp_path):
    sheet = BandsOf(grain())
    sheet.profile = PROFILES[4]
    with pytest.raises(RenderError, match="profile of its own colour space"):
        render.render(sheet, tmp_path / "print.tif")


# Progress --------------------------------------------------------------------------


@pytest.mark.parametrize("file_format", SUFFIX)
def test_progress_goes_from_nothing_to_all(tmp_path, file_format):
    told = []
    sheet = sheet_of(file_format, cuts=(20, 45))
    render.render(
        sheet,
        tmp_path / f"print{SUFFIX[file_format]}",
        progress=lambda done_rows, all_rows: told.append((done_rows, all_rows)),
    )
    rows = sheet.size_px[1]
    assert told == [(0, rows), (20, rows), (45, rows), (rows, rows)]


def test_progress_bar_reaches_its_end(tmp_path, capsys):
    with render.progress_bar("Seed heads") as bar:
        render.render(BandsOf(grain(), cuts=(30,)), tmp_path / "p.tif", progress=bar)
    shown = capsys.readouterr().err
    assert "Seed heads: 100%" in shown
    assert "61/61" in shown
