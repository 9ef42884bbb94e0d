"""The PDF page, read by programs that had no part in writing it."""

import hashlib
import subprocess
import zlib
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import imagecodecs
import numpy as np
import pikepdf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from outside_tools import need
from PIL import Image

from printplan.colour.profiles import open_profile, profile_from_bytes
from printplan.colour.spaces import named_profile
from printplan.errors import RenderError
from printplan.pixels import pdf_page, render
from printplan.spec import DeliverySpec, FileFormat, NamedSpace

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
DEVICE_SPACE = {1: "/DeviceGray", 3: "/DeviceRGB", 4: "/DeviceCMYK"}


class BandsOf:
    """Stands in for a sheet: an array in bands of 25 rows."""

    def __init__(self, pixels, *, ppi=360.0, page_mm=None, creator="Ina Børne"):
        self.pixels = pixels
        self.size_px = (pixels.shape[1], pixels.shape[0])
        self.channels = pixels.shape[2]
        self.dtype = pixels.dtype
        self.profile = PROFILES[self.channels]
        self.plan = SimpleNamespace(
            ppi=ppi,
            page_mm=page_mm or tuple(edge * 25.4 / ppi for edge in self.size_px),
            delivery=DeliverySpec(file_format=FileFormat.PDF),
            most_file_bytes=None,
        )
        notice = f"© 2031 {creator}" if creator else ""
        self.master = SimpleNamespace(
            facts=SimpleNamespace(
                path="no-such-master.tif", creator=creator, copyright_notice=notice
            )
        )

    def bands(self):
        for top in range(0, len(self.pixels), 25):
            yield top, self.pixels[top : top + 25]


def grain(rows=61, columns=47, channels=3, bits=16):
    generator = np.random.default_rng(rows * columns + channels)
    return generator.integers(
        0, 2**bits, (rows, columns, channels), np.dtype(f"u{bits // 8}")
    )


def page_of(folder, sheet, **options):
    path = folder / "print.pdf"
    render.render(sheet, path, **options)
    return path


def run(*command):
    """What a program prints; a warning of its fails the test."""
    need(command[0])
    done = subprocess.run(command, capture_output=True, check=True)
    assert done.stderr == b""
    return done.stdout


def matrix_of(pdf):
    """Width, height, left and bottom of the one image, in page units."""
    page = pdf.pages[0]
    steps = pikepdf.parse_content_stream(page)
    assert [str(step.operator) for step in steps] == ["q", "cm", "Do", "Q"]
    a, b, c, d, e, f = (float(number) for number in steps[1].operands)
    assert (b, c) == (0, 0)
    return a, d, e, f


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("channels", [1, 3, 4])
def test_page_holds_the_same_pixels_and_profile(tmp_path, channels, bits):
    pixels = grain(channels=channels, bits=bits)
    path = page_of(tmp_path, BandsOf(pixels))
    with pikepdf.open(path) as pdf:
        assert len(pdf.pages) == 1
        image = pdf.pages[0].resources.XObject.Picture
        assert (int(image.Width), int(image.Height)) == (47, 61)
        assert int(image.BitsPerComponent) == bits
        kind, profile = image.ColorSpace
        assert str(kind) == "/ICCBased"
        assert int(profile.N) == channels
        assert str(profile.Alternate) == DEVICE_SPACE[channels]
        assert profile.read_bytes() == PROFILES[channels].data
        # ISO 32000-1, 8.9.5.2: samples with the high byte first.
        samples = np.frombuffer(image.read_bytes(), f">u{bits // 8}")
    assert np.array_equal(samples.reshape(pixels.shape), pixels)


@pytest.mark.tools("qpdf")
@pytest.mark.parametrize("channels", [1, 3, 4])
def test_qpdf_finds_no_fault(tmp_path, channels):
    path = page_of(tmp_path, BandsOf(grain(channels=channels)))
    assert b"No syntax or stream encoding errors found" in run("qpdf", "--check", path)


@pytest.mark.tools("pdfimages")
@pytest.mark.parametrize("channels", [1, 3, 4])
def test_poppler_lists_the_image_at_its_depth_and_resolution(tmp_path, channels):
    path = page_of(tmp_path, BandsOf(grain(channels=channels), ppi=250))
    (_, _, listed) = run("pdfimages", "-list", path).decode().splitlines()
    # page num type width height color comp bpc enc interp object ID x-ppi y-ppi
    page, _, kind, *numbers = listed.split()[:14]
    assert (page, kind) == ("1", "image")
    assert numbers[:5] == ["47", "61", "icc", str(channels), "16"]
    assert numbers[-2:] == ["250", "250"]


@pytest.mark.tools("pdfimages")
def test_poppler_extracts_the_inks(tmp_path):
    """It keeps the high byte of 16, and converts no colour of four inks."""
    pixels = grain(channels=4)
    path = page_of(tmp_path, BandsOf(pixels))
    run("pdfimages", "-tiff", path, tmp_path / "out")
    with Image.open(tmp_path / "out-000.tif") as picture:
        assert picture.mode == "CMYK"
        assert np.array_equal(np.asarray(picture), pixels >> 8)


@pytest.mark.tools("pdftoppm")
def test_poppler_draws_the_picture_at_the_top_left(tmp_path):
    """A page larger than its pixels stays white at the right and the bottom."""
    black = np.zeros((90, 60, 3), np.uint16)
    # 100 × 100 px of paper at 100 ppi
    path = page_of(tmp_path, BandsOf(black, ppi=100, page_mm=(25.4, 25.4)))
    run("pdftoppm", "-r", "100", "-singlefile", path, tmp_path / "drawn")
    with Image.open(tmp_path / "drawn.ppm") as drawn:
        seen = np.asarray(drawn)[..., 1]
    assert seen.shape == (100, 100)
    assert (seen[:90, :60] < 40).all()
    # Poppler draws every pixel that an image touches, so one more is let pass.
    assert (seen[91:] == 255).all()
    assert (seen[:, 61:] == 255).all()


# ISO 32000-1, 8.3.2.3: a unit is 1/72 in. A4 (ISO 216) and 13 × 19 in in points, by
# hand: 210 / 25.4 × 72 and so on.
@pytest.mark.parametrize(
    ("page_mm", "points"),
    [
        ((210.0, 297.0), (595.275591, 841.889764)),
        ((297.0, 210.0), (841.889764, 595.275591)),
        ((330.2, 482.6), (936.0, 1368.0)),
        ((25.4, 50.8), (72.0, 144.0)),
    ],
)
def test_page_is_the_sheet_exactly(tmp_path, page_mm, points):
    # 5e-7 pt: the last digit written, 0.2 nm
    path = page_of(tmp_path, BandsOf(grain(), page_mm=page_mm))
    with pikepdf.open(path) as pdf:
        left, bottom, right, top = (float(edge) for edge in pdf.pages[0].MediaBox)
        assert (left, bottom) == (0, 0)
        assert (right, top) == pytest.approx(points, abs=5.1e-7, rel=0)
        assert "/UserUnit" not in pdf.pages[0]


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    ppi=st.floats(30, 2400),
    across=st.integers(1, 3000),
    down=st.integers(1, 40),
    over=st.floats(-0.5, 0.5),
)
def test_picture_keeps_its_size_at_the_top_left(tmp_path, ppi, across, down, over):
    """Whatever the resolution, and though paper is no whole number of pixels."""
    page_mm = ((across + over) * 25.4 / ppi, (down + over) * 25.4 / ppi)
    white = np.broadcast_to(np.uint16(65535), (down, across, 1))
    path = page_of(tmp_path, BandsOf(white, ppi=ppi, page_mm=page_mm), overwrite=True)
    with pikepdf.open(path) as pdf:
        width, height, left, bottom = matrix_of(pdf)
        unit = float(pdf.pages[0].get("/UserUnit", 1))
        page_height = float(pdf.pages[0].MediaBox[3])
    # Three numbers of six decimals: 1.5e-6 pt at most, half a nanometre.
    assert width * unit == pytest.approx(across * 72 / ppi, abs=1e-5)
    assert height * unit == pytest.approx(down * 72 / ppi, abs=1e-5)
    assert left == 0
    assert bottom + height == pytest.approx(page_height, abs=2e-6)


@pytest.mark.tools("qpdf")
@pytest.mark.parametrize(
    ("length_mm", "unit"),
    # 14,400 units (ISO 32000-1, Annex C.2) are 200 in, 5080 mm.
    [(5080.0, 1), (5080.1, 2), (10_160.0, 2), (30_000.0, 6)],
)
def test_long_rolls_use_a_larger_unit(tmp_path, length_mm, unit):
    ppi = 30.0
    rows = round(length_mm * ppi / 25.4)
    pixels = np.broadcast_to(np.uint16(9), (rows, 12, 1))
    path = page_of(tmp_path, BandsOf(pixels, ppi=ppi, page_mm=(10.16, length_mm)))
    with pikepdf.open(path) as pdf:
        page = pdf.pages[0]
        assert int(page.get("/UserUnit", 1)) == unit
        height_units = float(page.MediaBox[3])
        assert height_units <= 14_400
        assert height_units * unit / 72 * 25.4 == pytest.approx(length_mm, abs=1e-5)
        width, height, _, bottom = matrix_of(pdf)
        assert width * unit == pytest.approx(12 / ppi * 72, abs=1e-5)
        assert bottom + height == pytest.approx(height_units, abs=2e-6)
    assert b"No syntax" in run("qpdf", "--check", path)


@pytest.mark.parametrize(("channels", "version"), [(4, "1.6"), (3, "1.7")])
def test_version_is_the_lowest_that_suffices(tmp_path, channels, version):
    # ISO 32000-1, Tables 67 and 150: version 4 profiles as of 1.7 (ICC.1:2004-10),
    # the print dialogue's scaling as of 1.6. The press profile is version 2.
    assert PROFILES[channels].version[0] == (2 if version == "1.6" else 4)
    path = page_of(tmp_path, BandsOf(grain(channels=channels)))
    assert path.read_bytes().startswith(b"%PDF-" + version.encode())


def test_print_dialogue_is_asked_not_to_scale(tmp_path):
    with pikepdf.open(page_of(tmp_path, BandsOf(grain()))) as pdf:
        assert str(pdf.Root.ViewerPreferences.PrintScaling) == "/None"


@pytest.mark.parametrize("name", ["Ina Børne", "伊奈 (ぼ) \\ 😀", "<Ina> & Co"])
def test_page_carries_maker_and_notice(tmp_path, name):
    with pikepdf.open(page_of(tmp_path, BandsOf(grain(), creator=name))) as pdf:
        assert str(pdf.docinfo.Author) == name
        with pdf.open_metadata() as notes:
            assert notes["dc:creator"] == [name]
            assert notes["dc:rights"] == f"© 2031 {name}"
        assert set(pdf.docinfo.keys()) == {"/Author", "/Producer"}


@pytest.mark.tools("qpdf")
def test_page_without_maker_says_nothing_of_one(tmp_path):
    path = page_of(tmp_path, BandsOf(grain(), creator=""))
    with pikepdf.open(path) as pdf:
        assert "/Metadata" not in pdf.Root
        assert set(pdf.docinfo.keys()) == {"/Producer"}
    run("qpdf", "--check", path)


def test_identifier_follows_the_contents(tmp_path):
    identifiers = set()
    pixels = grain()
    changed = pixels.copy()
    changed[-1, -1, -1] ^= 1
    sheets = [
        BandsOf(pixels),
        BandsOf(pixels),
        BandsOf(changed),
        BandsOf(pixels, ppi=300),
        BandsOf(pixels, creator=""),
    ]
    for sheet in sheets:
        with pikepdf.open(page_of(tmp_path, sheet, overwrite=True)) as pdf:
            first, second = (bytes(part) for part in pdf.trailer.ID)
            assert first == second
            assert len(first) == 16
            identifiers.add(first)
    assert len(identifiers) == 4


def test_white_paper_takes_little_room(tmp_path):
    white = np.full((400, 300, 3), 65535, np.uint16)
    path = page_of(tmp_path, BandsOf(white))
    assert path.stat().st_size < white.nbytes / 50


@pytest.mark.parametrize(("rows", "limit"), [(5, 100), (2000, 100_000)])
def test_pixels_beyond_what_a_page_can_count_name_tiff(
    tmp_path, monkeypatch, rows, limit
):
    """Found at the end of a small picture, and on the way through a large one."""
    monkeypatch.setattr(pdf_page, "LARGEST_STREAM_BYTES", limit)
    told = []
    with pytest.raises(RenderError, match='format "TIFF, 16 bits"'):
        page_of(
            tmp_path,
            BandsOf(grain(rows=rows)),
            progress=lambda done_rows, _: told.append(done_rows),
        )
    assert told[-1] < 1000
    assert list(tmp_path.iterdir()) == []


def test_faulty_compression_is_found(tmp_path, monkeypatch):
    """A stream that is sound in itself and holds other pixels."""
    real = zlib.compressobj

    class Faulty:
        def __init__(self, **options):
            self.real = real(**options)

        def compress(self, data):
            return self.real.compress(bytes(data)[::-1])

        def flush(self):
            return self.real.flush()

    monkeypatch.setattr(pdf_page.zlib, "compressobj", Faulty)
    with pytest.raises(RenderError, match=r"hash of the samples.*Render it again"):
        page_of(tmp_path, BandsOf(grain()))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("part", ["header", "page", "profile", "pixels", "table", "id"])
def test_any_damaged_byte_is_found(tmp_path, part):
    sheet = BandsOf(grain(rows=20, columns=10))
    path = page_of(tmp_path, sheet)
    whole = path.read_bytes()
    form = render.file_form(sheet)
    samples = pdf_page._filtered(sheet.pixels).tobytes()
    sha256 = hashlib.sha256(samples).hexdigest()
    pdf_page.check_pdf(path, form, sha256)
    at = {
        "header": 6,
        "page": whole.index(b"/MediaBox") + 16,
        "profile": whole.index(PROFILES[3].data) + 300,
        "pixels": whole.index(b"5 0 obj") + 700,
        "table": whole.index(b"xref\n0") + 35,
        "id": whole.index(b"/ID [<") + 8,
    }[part]
    path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
    with pytest.raises(RenderError, match="Render it again"):
        render._read_back(path, partial(pdf_page.check_pdf, form=form, sha256=sha256))
