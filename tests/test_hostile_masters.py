"""Small files that hung, or filled memory: each ends soon, in a result or a reason."""

import io
import random
import struct
import zlib
from pathlib import Path
from time import monotonic

import numpy as np
import pytest
import simplejpeg
import tifffile
from PIL import Image
from test_master_file import NOISE, SRGB, jpeg, png, tiff_bytes, with_tag

from printplan.errors import MasterError
from printplan.pixels import jpeg_structure
from printplan.pixels.jpeg_structure import check_jpeg
from printplan.pixels.master import open_master
from printplan.pixels.master_file import provenance_from_xmp
from printplan.sizing.boxes import Box

ENDS_S = 10


@pytest.fixture(autouse=True)
def cache(tmp_path, monkeypatch):
    monkeypatch.setenv("PRINTPLAN_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def path(tmp_path):
    return tmp_path / "master"


def ended(path):
    """What came of a file, in time: its pixels, or the words of a refusal."""
    began_s = monotonic()
    try:
        with open_master(path) as master:
            box = Box(0, 0, master.facts.width_px, master.facts.height_px)
            return master.linear(box)
    except MasterError as error:
        return error.problem
    finally:
        assert monotonic() - began_s < ENDS_S


def directories(count, last):
    """A TIFF of that many directories of one tag each; where the last one leads."""
    entry = struct.pack("<HHHII", 1, 256, 3, 1, 9)
    size = len(entry) + 4
    data = bytearray(struct.pack("<2sHI", b"II", 42, 8))
    for number in range(count):
        following = 8 + (number + 1) * size if number + 1 < count else last
        data += entry + struct.pack("<I", following)
    return bytes(data)


def with_exif_segments(count):
    sound = jpeg()
    segment = b"\xff\xe1" + struct.pack(">H", 60_000) + b"Exif\0\0" + bytes(59_992)
    return sound[:2] + count * segment + sound[2:]


def claiming(data, width_px, height_px):
    """The same JPEG with another size in its frame (ITU-T T.81, B.2.2)."""
    at = data.index(b"\xff\xc0") + 5
    return data[:at] + struct.pack(">HH", height_px, width_px) + data[at + 4 :]


def with_strip_of(width_px, height_px):
    """A small TIFF whose one strip unpacks to a larger JPEG."""
    large = simplejpeg.encode_jpeg(np.zeros((height_px, width_px, 3), np.uint8))
    data = bytearray(tiff_bytes(NOISE, compression="jpeg"))
    with tifffile.TiffFile(io.BytesIO(bytes(data))) as tiff:
        tags = tiff.pages[0].tags
    end = len(data)
    data += large
    struct.pack_into("<I", data, tags[273].valueoffset, end)
    struct.pack_into("<I", data, tags[279].valueoffset, len(large))
    return bytes(data)


def text_chunks(keyword, count):
    packed = zlib.compress(bytes(60_000_000), 9)
    return [(b"iTXt", keyword + b"\0\1\0\0\0" + packed)] * count


HOSTILE = {
    "ring of directories": (directories(3, 8), "more than 100 pages"),
    "directory that leads to itself": (directories(1, 8), "more than 100 pages"),
    "100,000 directories": (directories(100_000, 0), "more than 100 pages"),
    "2,000 segments": (with_exif_segments(2000), "more than 2000 segments"),
    "458 million pixels": (claiming(jpeg(), 30_000, 15_267), "bytes cannot"),
    "strip larger than its page": (with_strip_of(20_000, 20_000), ""),
    "chunks of text": (png(chunks=text_chunks(b"note", 70)), ""),
    "chunks of XMP": (png(chunks=text_chunks(b"XML:com.adobe.xmp", 70)), ""),
}


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", HOSTILE)
def test_a_small_file_that_would_hang_or_fill_memory_ends(path, name):
    data, why = HOSTILE[name]
    path.write_bytes(data)
    assert why in str(ended(path))


@pytest.mark.parametrize("depth", [63, 65, 20_000])
def test_deeply_nested_descriptions_are_left_out_at_once(depth):
    """346 kB of them took 18 s, and more memory the deeper they were."""
    inside = (
        b'<dc:creator xmlns:dc="http://purl.org/dc/elements/1.1/" '
        b'xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:li>A. Fenwick'
        b"</rdf:li></dc:creator>"
    )
    levels = depth - 2
    began_s = monotonic()
    found = provenance_from_xmp(b"<a>" * levels + inside + b"</a>" * levels)
    assert found.creator == ("A. Fenwick" if depth < 64 else "")
    assert monotonic() - began_s < 1


def test_a_cut_packet_says_nothing():
    assert not provenance_from_xmp(b"<a><b></b>").creator


@pytest.mark.parametrize(
    "block", [b"Exif\0\0MM\0*\x12\0\3", b"Exif\0\0II*\0\xff\xff\xff\xff", b"Exif\0\0"]
)
def test_a_damaged_block_of_facts_is_no_reason_to_refuse(path, block):
    """Found by coverage-guided damage: Pillow raised what nobody took."""
    path.write_bytes(jpeg(exif=block))
    assert ended(path).shape == (3, 20, 30)


# JPEG ----------------------------------------------------------------------------


def photograph(*, progressive, subsampling):
    """Smooth tones, edges and grain, packed as cameras do."""
    dice = np.random.default_rng(3)
    rows, columns = np.mgrid[:240, :320]
    tones = 90 + 60 * np.sin(rows / 31) * np.cos(columns / 23) + 40 * (columns > rows)
    pixels = tones[..., None] + dice.normal(0, 6, (240, 320, 3))
    out = io.BytesIO()
    Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8)).save(
        out,
        "JPEG",
        quality=90,
        progressive=progressive,
        subsampling=subsampling,
        icc_profile=SRGB,
    )
    return out.getvalue()


KINDS = [
    (progressive, subsampling)
    for progressive in (False, True)
    for subsampling in (0, 2)
]


@pytest.mark.slow
@pytest.mark.parametrize(("progressive", "subsampling"), KINDS)
def test_every_cut_jpeg_is_refused_whatever_is_put_at_its_end(
    path, progressive, subsampling
):
    """Cut in the middle with an end mark put back, 100 of 100 were once accepted."""
    sound = photograph(progressive=progressive, subsampling=subsampling)
    first = sound.index(b"\xff\xda")
    dice = random.Random(5)  # noqa: S311 - repeatable
    scans = [
        at for at in range(first + 1, len(sound)) if sound[at : at + 2] == b"\xff\xda"
    ]
    assert bool(scans) == progressive
    cuts = [*scans, *(dice.randrange(first, len(sound) - 30) for _ in range(50))]
    for cut in cuts:
        for end in (b"", b"\xff\xd9", b"\xff" + b"\xff\xd9", bytes(40) + b"\xff\xd9"):
            path.write_bytes(sound[:cut] + end)
            found = ended(path)
            assert isinstance(found, str), (cut, end)
    path.write_bytes(sound)
    assert ended(path).shape == (3, 240, 320)


def test_what_follows_the_picture_is_not_the_pictures_fault(path):
    """Some cameras put bytes before the end mark, and others files behind it."""
    sound = photograph(progressive=False, subsampling=2)
    path.write_bytes(sound)
    pixels = ended(path)
    for end in (bytes(7) + b"\xff\xd9", b"\xff\xd9" + bytes(500), b"\xff\xd9" + sound):
        path.write_bytes(sound[:-2] + end)
        assert np.array_equal(ended(path), pixels)


def test_a_jpeg_is_decoded_as_another_library_does(path):
    """Pillow's libjpeg-turbo is another build; both follow ITU-T T.81 to the bit."""
    for progressive, subsampling in KINDS:
        data = photograph(progressive=progressive, subsampling=subsampling)
        path.write_bytes(data)
        with Image.open(io.BytesIO(data)) as image, open_master(path) as master:
            theirs = np.asarray(image).transpose(2, 0, 1)
            assert np.array_equal(master.codes(Box(0, 0, 320, 240)), theirs)


@pytest.mark.parametrize("tile", [None, (64, 96)], ids=["strips", "tiles"])
@pytest.mark.parametrize("subsampling", [(1, 1), (2, 1), (2, 2)])
def test_a_tiff_packed_as_jpeg_is_decoded_as_another_library_does(
    path, tile, subsampling
):
    tifffile.imwrite(
        path,
        simplejpeg.decode_jpeg(photograph(progressive=False, subsampling=0)),
        photometric="ycbcr",
        compression="jpeg",
        subsampling=subsampling,
        tile=tile,
        rowsperstrip=None if tile else 48,
        iccprofile=SRGB,
        metadata=None,
    )
    theirs = tifffile.imread(path).transpose(2, 0, 1)
    with open_master(path) as master:
        assert np.array_equal(master.codes(Box(0, 0, 320, 240)), theirs)


def test_a_strip_that_is_too_small_is_refused(path):
    path.write_bytes(with_strip_of(NOISE.shape[1], NOISE.shape[0] - 1))
    assert "too small" in str(ended(path))


def test_a_frame_may_be_as_large_as_its_bytes_can_hold():
    """The smallest JPEG of one colour is far from the limit."""
    data = simplejpeg.encode_jpeg(np.full((2000, 3000, 3), 128, np.uint8), quality=1)
    check_jpeg(data)
    with pytest.raises(MasterError, match="cannot"):
        check_jpeg(claiming(data, 60_000, 60_000))


@pytest.mark.parametrize("at_once", [1, 2, 7, 1000])
@pytest.mark.parametrize("kind", KINDS)
def test_markers_are_found_wherever_a_jpeg_is_cut_to_look_for_them(
    kind, at_once, monkeypatch
):
    progressive, subsampling = kind
    data = photograph(progressive=progressive, subsampling=subsampling)
    monkeypatch.setattr(jpeg_structure, "_BYTES_AT_ONCE", at_once)
    check_jpeg(data)
    for lost in (1, 2, len(data) // 2):
        with pytest.raises(MasterError):
            check_jpeg(data[:-lost])


def test_a_tiff_of_damaged_jpeg_strips_is_refused(path):
    sound = tiff_bytes(NOISE, compression="jpeg")
    with tifffile.TiffFile(io.BytesIO(sound)) as tiff:
        start, count = tiff.pages[0].dataoffsets[0], tiff.pages[0].databytecounts[0]
    middle = start + count // 2
    cut = sound[:middle] + b"\xff\xd9" + bytes(count - count // 2 - 2)
    path.write_bytes(cut + sound[start + count :])
    assert "damaged" in ended(path) or "cut short" in ended(path)


def test_a_short_strip_is_refused(path):
    """It was filled up with zeros."""
    sound = bytearray(tiff_bytes(NOISE, compression="deflate", rowsperstrip=5))
    with tifffile.TiffFile(io.BytesIO(bytes(sound))) as tiff:
        start = tiff.pages[0].dataoffsets[1]
        count = tiff.pages[0].databytecounts[1]
        size = zlib.decompress(bytes(sound[start : start + count]))
    short = zlib.compress(size[: len(size) // 2], 9)
    assert len(short) <= count
    sound[start : start + count] = short + bytes(count - len(short))
    path.write_bytes(bytes(sound))
    assert "damaged" in ended(path)


def test_a_jpeg_of_another_depth_than_its_page_is_refused(path):
    """Its 255 would be taken for 255 of 65535."""
    data = bytearray(tiff_bytes(NOISE, compression="jpeg"))
    with tifffile.TiffFile(io.BytesIO(bytes(data))) as tiff:
        bits = tiff.pages[0].tags[258]
    struct.pack_into("<3H", data, bits.valueoffset, 16, 16, 16)
    path.write_bytes(bytes(data))
    assert "packed as JPEG, which holds 8" in ended(path)


def test_a_planar_jpeg_is_refused_for_what_it_is(path):
    path.write_bytes(with_tag(tiff_bytes(NOISE, compression="jpeg"), 284, 2))
    assert "each colour by itself" in ended(path)


# Chance ----------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_a_thousand_damaged_masters_end_in_pixels_or_a_reason(monkeypatch):
    """The long run: python tests/fuzz/masters.py --count 8000"""
    monkeypatch.syspath_prepend(str(Path(__file__).parent / "fuzz"))
    import masters as fuzz  # noqa: PLC0415 - found there alone

    outcomes, faults, _ = fuzz.run(fuzz.cases(1000, seed=20))
    assert faults == []
    assert sum(outcomes.values()) == 1000
    assert all(outcomes[kind, fuzz.REFUSED] > 20 for kind in fuzz.seeds())


def test_formats_with_sums_pass_no_turned_bit(monkeypatch):
    """Deflate carries a sum of Adler's, LZMA and PNG CRCs; the others have none."""
    monkeypatch.syspath_prepend(str(Path(__file__).parent / "fuzz"))
    import masters as fuzz  # noqa: PLC0415 - found there alone

    outcomes, faults, _ = fuzz.run(fuzz.flips(8, seed=4))
    assert faults == []
    for kind in ("TIFF deflate", "TIFF floating", "TIFF lzma", "PNG"):
        assert outcomes[kind, fuzz.REFUSED] == 8
