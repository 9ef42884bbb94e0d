"""What a master says of itself, and which files are no masters."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib

import colour
import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms

from printplan.colour.spaces import named_profile
from printplan.errors import MasterError, PrintPlanError, ProfileError
from printplan.pixels import master_source
from printplan.pixels.master import open_master
from printplan.pixels.master_reading import decoded_pixels, describe, open_file
from printplan.pixels.working_pixels import Working
from printplan.sizing.boxes import Box
from printplan.spec import AlphaRule, NamedSpace

SRGB = named_profile(NamedSpace.SRGB).data
GREY = imagecodecs.cms_profile("gray", gamma=2.0)
SMALL = np.full((20, 30, 3), 90, np.uint8)


@pytest.fixture(autouse=True)
def cache(tmp_path, monkeypatch):
    monkeypatch.setenv("PRINTPLAN_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def path(tmp_path):
    return tmp_path / "master"


def facts_of(path, **wishes):
    with open_master(path, **wishes) as master:
        return master.facts


def write_tiff(path, pixels=SMALL, **tags):
    tags = {"photometric": "rgb", "iccprofile": SRGB} | tags
    tifffile.imwrite(path, pixels, **tags)


def png(pixels=SMALL, chunks=(), profile=SRGB):
    """A PNG with chunks behind its header (ISO/IEC 15948, 5.3 and 11.3.2.3)."""
    data = imagecodecs.png_encode(pixels)
    if profile:
        chunks = [(b"iCCP", b"space\0\0" + zlib.compress(profile)), *chunks]
    added = b"".join(map(chunk, chunks))
    return data[:33] + added + data[33:]


def chunk(named):
    name, content = named
    check = struct.pack(">I", zlib.crc32(name + content))
    return struct.pack(">I", len(content)) + name + content + check


def jpeg(pixels=SMALL, **settings):
    stream = io.BytesIO()
    settings = {"icc_profile": SRGB} | settings
    Image.fromarray(pixels).save(stream, "jpeg", **settings)
    return stream.getvalue()


# What the file says --------------------------------------------------------------


def test_hash_and_place_are_facts(path):
    write_tiff(path)
    facts = facts_of(path)
    assert facts.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert facts.path == str(path)
    assert facts.profile_sha256 == hashlib.sha256(SRGB).hexdigest()
    assert not facts.profile_is_assumed


def test_pages_are_counted_without_their_thumbnails(path):
    """TIFF 6.0, NewSubfileType: bit 0 marks a reduced version of another page."""
    with tifffile.TiffWriter(path) as writer:
        for value, reduced in [(10, 0), (20, 1), (30, 0)]:
            writer.write(
                np.full((8, 8, 3), value, np.uint8),
                photometric="rgb",
                subfiletype=reduced,
                iccprofile=SRGB,
                metadata=None,
            )
    assert facts_of(path).page_count == 2


def test_thumbnail_that_comes_first_is_not_the_picture(path):
    with tifffile.TiffWriter(path) as writer:
        for edge, reduced in [(8, 1), (32, 0)]:
            writer.write(
                np.zeros((edge, edge, 3), np.uint8),
                photometric="rgb",
                subfiletype=reduced,
                iccprofile=SRGB,
                metadata=None,
            )
    assert (facts_of(path).width_px, facts_of(path).page_count) == (32, 1)


def test_tiff_fields_name_the_maker(path):
    notice = "© Photographer\0Editor".encode()
    write_tiff(
        path,
        extratags=[
            (315, 2, None, "Zoë Invented".encode(), True),
            (33432, 2, None, notice, True),
        ],
    )
    facts = facts_of(path)
    assert facts.creator == "Zoë Invented"
    assert facts.copyright_notice == "© Photographer; Editor"
    assert not facts.has_location


def exif_block(*, place):
    exif = Image.Exif()
    exif[315] = "An Invented Studio"
    exif[33432] = "All prints reserved"
    if place:
        exif[34853] = {1: "N", 2: (47.0, 30.0, 0.0)}
    return exif.tobytes()


@pytest.mark.parametrize("place", [True, False])
@pytest.mark.parametrize("kind", ["png", "jpeg", "tiff"])
def test_exif_names_the_maker_and_tells_of_a_place(path, kind, place):
    block = exif_block(place=place)
    if kind == "png":
        path.write_bytes(png(chunks=[(b"eXIf", block[6:])]))
    elif kind == "jpeg":
        path.write_bytes(jpeg(exif=block))
    else:
        exif = Image.Exif()
        exif.load(block)
        Image.fromarray(SMALL).save(path, "tiff", icc_profile=SRGB, exif=exif)
    facts = facts_of(path)
    assert facts.creator == "An Invented Studio"
    assert facts.copyright_notice == "All prints reserved"
    assert facts.has_location is place


XMP = """<?xpacket begin="" id=""?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF
 xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"
 xmlns:dc="http://purl.org/dc/elements/1.1/"
 xmlns:exif="http://ns.adobe.com/exif/1.0/">
<rdf:Description rdf:about="" exif:GPSLatitude="47,30.0N">
<dc:creator><rdf:Seq><rdf:li>Ann</rdf:li><rdf:li>Bö</rdf:li></rdf:Seq></dc:creator>
<dc:rights><rdf:Alt><rdf:li xml:lang="x-default">© Ann, Bö</rdf:li></rdf:Alt>
</dc:rights>
</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>""".encode()


@pytest.mark.parametrize("kind", ["png", "packed png", "jpeg", "tiff"])
def test_xmp_names_the_maker_where_plain_fields_do_not(path, kind):
    """ISO 16684-1: dc:creator is an ordered list, dc:rights a list of languages."""
    key = b"XML:com.adobe.xmp\0"
    if kind == "png":
        path.write_bytes(png(chunks=[(b"iTXt", key + b"\0\0\0\0" + XMP)]))
    elif kind == "packed png":
        packed = key + b"\1\0\0\0" + zlib.compress(XMP)
        path.write_bytes(png(chunks=[(b"iTXt", packed)]))
    elif kind == "jpeg":
        path.write_bytes(jpeg(xmp=XMP))
    else:
        write_tiff(path, extratags=[(700, 1, len(XMP), XMP, True)])
    facts = facts_of(path)
    assert (facts.creator, facts.copyright_notice) == ("Ann; Bö", "© Ann, Bö")
    assert facts.has_location


def test_png_text_names_the_maker(path):
    """ISO/IEC 15948, 11.3.3.1: keywords Author and Copyright, in Latin-1."""
    texts = [(b"tEXt", b"Author\0Zo\xeb"), (b"tEXt", b"Copyright\0\xa9 Zo\xeb")]
    path.write_bytes(png(chunks=texts))
    assert facts_of(path).creator == "Zoë"
    assert facts_of(path).copyright_notice == "© Zoë"


@pytest.mark.parametrize(
    "packet",
    [
        b"<x:xmpmeta",
        b'<!DOCTYPE a [<!ENTITY b "b">]><a>&b;</a>',
        "<a/>".encode("utf-16"),
        b"",
    ],
)
def test_unreadable_xmp_is_no_reason_to_refuse_a_picture(path, packet):
    path.write_bytes(png(chunks=[(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + packet)]))
    assert facts_of(path).creator == ""


# Which profile -------------------------------------------------------------------


def test_untagged_file_is_never_guessed(path):
    write_tiff(path, iccprofile=None)
    with pytest.raises(ProfileError, match=r"If you know its space.*let it be assumed"):
        open_master(path)


@pytest.mark.parametrize("kind", ["png", "jpeg"])
def test_file_that_only_names_srgb_is_not_assumed_but_told(path, kind):
    """The sRGB chunk (ISO/IEC 15948, 11.3.2.5) and Exif ColorSpace 1."""
    if kind == "png":
        path.write_bytes(png(profile=None, chunks=[(b"sRGB", b"\0")]))
    else:
        exif = Image.Exif()
        exif[34665] = {40961: 1}
        path.write_bytes(jpeg(icc_profile=None, exif=exif.tobytes()))
    with pytest.raises(
        ProfileError, match="says that it is sRGB: if so, let that be assumed"
    ):
        open_master(path)


@pytest.mark.parametrize("space", NamedSpace)
def test_profile_named_for_an_untagged_file_is_a_fact(path, space):
    write_tiff(path, iccprofile=None)
    with open_master(path, assume_profile=space) as master:
        assert master.profile == named_profile(space)
        assert master.facts.profile_is_assumed


# Colour-science's own formulas of the standards.
EOTFS = {
    NamedSpace.SRGB: colour.models.eotf_sRGB,
    NamedSpace.ROMM_RGB: colour.models.cctf_decoding_ROMMRGB,
}


@pytest.mark.parametrize("space", NamedSpace)
def test_untagged_grey_file_is_read_as_its_refusal_advises(path, space):
    """The space gives its tone curve; white stays D50, and grey has no colour."""
    ramp = np.arange(0, 65536, 255, dtype=np.uint16)[None].repeat(4, axis=0)
    write_tiff(path, ramp, photometric="minisblack", iccprofile=None)
    with pytest.raises(ProfileError, match="its tone curve is used") as refused:
        open_master(path)
    assert space in refused.value.remedy
    with open_master(path, assume_profile=space) as master:
        facts = master.facts
        assert facts.channels == 1
        assert facts.profile_is_assumed
        assert facts.profile_name == f"Grey, tone curve of {named_profile(space).name}"
        light = master.linear(Box(0, 0, 258, 1))[0, 0]
        space_of_screen = master.profile
    codes = ramp[0] / 65535
    eotf = EOTFS.get(space, lambda it: it ** (2 + 51 / 256))  # IEC 61966-2-5
    # Single precision, and the standards' constants are rounded to five digits.
    assert light == pytest.approx(eotf(codes), abs=3e-5)
    # LittleCMS (in Pillow) takes grey codes to the space's own as they are.
    opened = [
        ImageCms.ImageCmsProfile(io.BytesIO(it.data))
        for it in (space_of_screen, named_profile(space))
    ]
    grey = Image.fromarray(np.arange(256, dtype=np.uint8)[None])
    seen = np.asarray(ImageCms.profileToProfile(grey, *opened, outputMode="RGB"))
    assert np.ptp(seen.astype(int), axis=2).max() <= 1
    assert seen[0, :, 1].astype(int) == pytest.approx(np.arange(256), abs=1)


def test_grey_file_is_not_read_by_an_rgb_profile_from_a_file(tmp_path, path):
    (tmp_path / "own.icc").write_bytes(SRGB)
    write_tiff(path, SMALL[..., 0], photometric="minisblack", iccprofile=None)
    with pytest.raises(ProfileError, match="a profile for grey") as refused:
        open_master(path, assume_profile=str(tmp_path / "own.icc"))
    assert "sRGB" in refused.value.remedy


def test_profile_may_be_named_by_its_path(tmp_path, path):
    (tmp_path / "own.icc").write_bytes(SRGB)
    write_tiff(path, iccprofile=None)
    facts = facts_of(path, assume_profile=str(tmp_path / "own.icc"))
    assert facts.profile_is_assumed
    assert facts.profile_sha256 == hashlib.sha256(SRGB).hexdigest()


def test_profile_named_beside_an_embedded_one_is_refused(path):
    write_tiff(path)
    with pytest.raises(ProfileError, match="Assume none"):
        open_master(path, assume_profile="sRGB")


def test_unknown_profile_name_lists_what_is_known(path):
    write_tiff(path, iccprofile=None)
    with pytest.raises(ProfileError, match="one of sRGB, opRGB, ROMM RGB"):
        open_master(path, assume_profile="my monitor")


def test_grey_file_with_an_rgb_profile_is_refused(path):
    write_tiff(path, SMALL[..., 0], photometric="minisblack")
    with pytest.raises(ProfileError, match="with a profile for grey"):
        open_master(path)


def test_rgb_file_with_a_grey_profile_is_refused(path):
    write_tiff(path, iccprofile=GREY)
    with pytest.raises(ProfileError, match="with a profile for RGB"):
        open_master(path)


@pytest.mark.parametrize("device_class", [b"link", b"abst", b"nmcl"])
def test_profile_that_does_not_describe_a_device_is_refused(path, device_class):
    """ICC.1:2022, 7.2.5, table 18: classes without a device's colours."""
    write_tiff(path, iccprofile=SRGB[:12] + device_class + SRGB[16:])
    with pytest.raises(ProfileError, match="profile of its working space"):
        open_master(path)


def test_printer_profile_is_taken_and_named(path):
    """A later check tells that the file is already in a printer's colour."""
    write_tiff(path, iccprofile=SRGB[:12] + b"prtr" + SRGB[16:])
    with open_master(path) as master:
        assert master.source_profile.device_class == "prtr"


@pytest.mark.parametrize("damage", [SRGB[:200], b"none" + SRGB[40:], b"x" * 300])
def test_damaged_profile_is_refused(path, damage):
    write_tiff(path, iccprofile=damage)
    with pytest.raises(ProfileError, match="with a sound one"):
        open_master(path)


def test_large_profile_in_png_is_read(path):
    """Table profiles unpack to megabytes; padding behind the tags stands for one."""
    large = struct.pack(">I", len(SRGB) + 3_000_000) + SRGB[4:] + bytes(3_000_000)
    path.write_bytes(png(profile=large))
    assert facts_of(path).profile_sha256 == hashlib.sha256(large).hexdigest()


# Which files are no masters ------------------------------------------------------

EXPORT = "Export it again"
AGAIN = "Copy or download the file again"


def tiff_bytes(pixels=SMALL, **tags):
    stream = io.BytesIO()
    tifffile.imwrite(
        stream, pixels, **({"photometric": "rgb", "iccprofile": SRGB} | tags)
    )
    return stream.getvalue()


def with_tag(data, code, value):
    """A little-endian classic TIFF with a short tag of its first page replaced."""
    at = struct.unpack_from("<I", data, 4)[0]
    for entry in range(at + 2, at + 2 + 12 * struct.unpack_from("<H", data, at)[0], 12):
        if struct.unpack_from("<H", data, entry)[0] == code:
            return (
                data[: entry + 2]
                + struct.pack("<HIHH", 3, 1, value, 0)
                + data[entry + 12 :]
            )
    raise AssertionError(code)


def saved(image, kind, **settings):
    stream = io.BytesIO()
    image.save(stream, kind, icc_profile=SRGB, **settings)
    return stream.getvalue()


def png_of_grey(bits):
    """All of it black (ISO/IEC 15948, 11.2.2 and 9.2)."""
    head = struct.pack(">IIBBBBB", 30, 20, bits, 0, 0, 0, 0)
    rows = zlib.compress(bytes(20 * (1 + 30 * bits // 8)))
    parts = ((b"IHDR", head), (b"IDAT", rows), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(map(chunk, parts))


NOISE = np.random.default_rng(1).integers(0, 256, (64, 64, 3), np.uint8)
ONE_BIT = Image.fromarray(SMALL).convert("1")
INK = Image.fromarray(SMALL).convert("CMYK")
PALETTE = Image.fromarray(SMALL).convert("P")

REFUSED = {
    "ink TIFF": (saved(INK, "tiff"), "ink values", EXPORT),
    "ink JPEG": (saved(INK, "jpeg"), "CMYK", "export that as RGB"),
    "CIELAB TIFF": (tiff_bytes(photometric="cielab"), "CIELAB", EXPORT),
    "palette TIFF": (saved(PALETTE, "tiff"), "palette", EXPORT),
    "palette PNG": (saved(PALETTE, "png"), "palette", EXPORT),
    "1-bit TIFF": (saved(ONE_BIT, "tiff"), "1 bit per pixel", EXPORT),
    "1-bit PNG": (saved(ONE_BIT, "png"), "1-bit", EXPORT),
    "4-bit PNG": (png_of_grey(bits=4), "4-bit", EXPORT),
    "signed TIFF": (
        tiff_bytes(SMALL.astype(np.int16)),
        "SampleFormat 2",
        "8 or 16 bits",
    ),
    "32-bit TIFF": (tiff_bytes(SMALL.astype(np.uint32)), "32 bits", "8 or 16 bits"),
    "64-bit TIFF": (tiff_bytes(SMALL.astype(np.float64)), "64 bits", "16 or 32 bits"),
    "12-bit TIFF": (
        with_tag(
            tiff_bytes(SMALL[..., 0].astype(np.uint16), photometric="minisblack"),
            258,
            12,
        ),
        "12 bits",
        "8 or 16 bits",
    ),
    "YCbCr TIFF": (tiff_bytes(photometric="ycbcr"), "YCbCr", EXPORT),
    "camera mosaic": (tiff_bytes(SMALL[..., 0], photometric="cfa"), "mosaic", EXPORT),
    "odd packing": (
        tiff_bytes(NOISE, compression="webp"),
        "compression 50001",
        "with deflate or LZW",
    ),
    "stack": (
        tiff_bytes(np.zeros((4, 16, 16, 3), np.uint8), volumetric=True),
        "4 slices",
        EXPORT,
    ),
    "thumbnail only": (tiff_bytes(subfiletype=1), "no picture at full size", EXPORT),
    "two extra channels": (
        tiff_bytes(
            np.zeros((9, 9, 5), np.uint8), extrasamples=["unspecified", "unassalpha"]
        ),
        "the other 2",
        "Delete the extra channels",
    ),
    "nameless channel": (
        tiff_bytes(np.zeros((9, 9, 4), np.uint8), extrasamples=["unspecified"]),
        "the other 1",
        "Delete the extra channels",
    ),
    "transparency where 0 is white": (
        tiff_bytes(
            np.zeros((9, 9, 2), np.uint8),
            photometric="miniswhite",
            planarconfig="contig",
            extrasamples=["unassalpha"],
        ),
        "where 0 is white",
        EXPORT,
    ),
    "no pixels": (with_tag(tiff_bytes(), 256, 0), "0 × 20 pixels", EXPORT),
    "no rows in a strip": (
        with_tag(tiff_bytes(compression="deflate"), 278, 0),
        "without pixels",
        AGAIN,
    ),
    "cut TIFF": (tiff_bytes()[:-100], "the file has", AGAIN),
    "cut packed TIFF": (
        tiff_bytes(NOISE, compression="deflate")[:-100],
        "the file has",
        AGAIN,
    ),
    "cut LZW TIFF": (
        tiff_bytes(NOISE, compression="lzw")[:-100],
        "the file has",
        AGAIN,
    ),
    "TIFF pixels in the header": (
        with_tag(tiff_bytes(rowsperstrip=20), 273, 4),
        "begin inside its header",
        "Export it again",
    ),
    "lossless JPEG": (
        imagecodecs.jpeg8_encode(SMALL, lossless=True),
        "lossless or hierarchical",
        "as TIFF with 16 bits",
    ),
    "12-bit JPEG": (
        imagecodecs.jpeg8_encode(SMALL.astype(np.uint16), bitspersample=12),
        "12 bits per channel",
        "as TIFF with 16 bits",
    ),
    "TIFF without its tags": (b"II*\0\x08\0\0\0\5\0", "damaged", AGAIN),
    "TIFF header alone": (tiff_bytes()[:8], "before its first page", AGAIN),
    "cut PNG": (png(NOISE)[:-5000], "before its last chunk", AGAIN),
    "PNG without its end": (png(NOISE)[:-12], "before its last chunk", AGAIN),
    "PNG header alone": (png()[:20], "IHDR", AGAIN),
    "damaged PNG profile": (
        png(profile=None, chunks=[(b"iCCP", b"space\0\0none")]),
        "packed chunk",
        AGAIN,
    ),
    "cut PNG profile": (
        png(profile=None, chunks=[(b"iCCP", b"space\0\0" + zlib.compress(SRGB)[:-9])]),
        "cut short",
        EXPORT,
    ),
    "cut JPEG": (jpeg()[:-200], "cut short", AGAIN),
    "JPEG header alone": (jpeg()[:30], "cut short", AGAIN),
    "text": (
        b"a photograph, but in words",
        "not a TIFF, PNG or JPEG",
        "Export the picture as TIFF",
    ),
    "empty": (b"", "is empty", "Copy or export it again"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_file_that_is_no_master_is_refused_with_a_remedy(path, case):
    data, problem, remedy = REFUSED[case]
    path.write_bytes(data)
    with pytest.raises(MasterError) as caught:
        open_master(path, alpha=AlphaRule.FLATTEN)
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


def test_missing_file_is_refused(path):
    with pytest.raises(MasterError, match="Check its name and folder"):
        open_master(path)


def test_folder_is_refused(tmp_path):
    with pytest.raises(MasterError, match="Name the file inside it"):
        open_master(tmp_path)


def test_name_that_no_file_can_have_is_refused():
    with pytest.raises(MasterError, match="Give a shorter or plainer name"):
        open_master("a\0b")


TRANSPARENT = {
    "TIFF": tiff_bytes(np.zeros((9, 9, 4), np.uint8), extrasamples=["unassalpha"]),
    "PNG": png(np.zeros((9, 9, 4), np.uint8)),
    "grey PNG": png(np.zeros((9, 9, 2), np.uint8), profile=GREY),
    "PNG with a key": png(chunks=[(b"tRNS", bytes(6))]),
}


@pytest.mark.parametrize("case", TRANSPARENT)
def test_transparency_is_refused_unless_allowed(path, case):
    path.write_bytes(TRANSPARENT[case])
    with pytest.raises(
        MasterError, match=r'laid on paper white\. In Python: alpha="flatten"'
    ):
        open_master(path)
    assert facts_of(path, alpha=AlphaRule.FLATTEN).alpha_was_flattened


@pytest.mark.parametrize("edges", [(50_000, 20_000), (2**31 - 1, 2**31 - 1)])
def test_absurd_declared_size_is_refused(path, edges):
    data = png()
    header = struct.pack(">2I", *edges) + data[24:29]
    path.write_bytes(data[:8] + chunk((b"IHDR", header)) + data[33:])
    with pytest.raises(MasterError, match="export it again"):
        open_master(path)


def test_absurd_declared_tiff_size_is_refused(path):
    path.write_bytes(with_tag(with_tag(tiff_bytes(), 256, 60_000), 257, 60_000))
    with pytest.raises(MasterError, match="The header may be damaged"):
        open_master(path)


@pytest.mark.parametrize("kind", ["png", "jpeg"])
def test_large_masters_are_not_taken_for_an_attack(path, kind, monkeypatch):
    """The imaging library's own limit is below the size of today's sensors."""
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 100)
    path.write_bytes(png() if kind == "png" else jpeg())
    # In this process: the one that reads masters has limits of its own.
    with open_file(path) as stream:
        stored = describe(stream, path)
        srgb = named_profile(NamedSpace.SRGB)
        bands = list(decoded_pixels(stream, path, stored, srgb, Working.CODES))
    assert sum(len(pixels) for pixels, _ in bands) == stored.height_px == 20
    assert stored.width_px == 30


PLAIN = [
    tiff_bytes(NOISE, compression="deflate", rowsperstrip=7),
    tiff_bytes(NOISE.transpose(2, 0, 1), planarconfig="separate", tile=(16, 32)),
    tiff_bytes(NOISE, compression="jpeg", rowsperstrip=16),
    tiff_bytes(NOISE[..., 0], photometric="minisblack", iccprofile=None, tile=(16, 32)),
    png(NOISE),
    png(NOISE[..., 0].copy(), profile=None),
    jpeg(pixels=NOISE),
]


@pytest.mark.parametrize("data", PLAIN, ids=range(len(PLAIN)))
def test_codes_are_decoded_into_the_room_that_is_given(path, data):
    """The same as without, to the bit; each band is a part of the room."""
    path.write_bytes(data)
    srgb = named_profile(NamedSpace.SRGB)
    with open_file(path) as stream:
        stored = describe(stream, path)
        known = (stream, path, stored, srgb, Working.CODES)
        alone = np.concatenate([band for band, _ in decoded_pixels(*known)])
        room = np.full_like(alone, 7)
        bands = [band for band, _ in decoded_pixels(*known, room)]
    assert len(np.unique(alone)) > 20
    assert np.array_equal(room, alone)
    assert all(np.may_share_memory(band, room) for band in bands)
    assert sum(map(len, bands)) == len(room)


def test_file_that_changes_while_it_is_opened_is_refused(path, monkeypatch):
    write_tiff(path, compression="deflate")
    describe = master_source.described

    def describe_then_save(name):
        told = describe(name)
        with path.open("ab") as saving:
            saving.write(b"more")
        return told

    monkeypatch.setattr(master_source, "described", describe_then_save)
    with pytest.raises(MasterError, match="Let the other program finish saving"):
        open_master(path)


SOUND = [
    tiff_bytes(NOISE),
    tiff_bytes(NOISE, compression="deflate", rowsperstrip=7),
    tiff_bytes(NOISE, compression="lzw", tile=(16, 16), byteorder=">", bigtiff=True),
    tiff_bytes(NOISE, compression="jpeg"),
    tiff_bytes((NOISE / 255).astype(np.float32), compression="deflate"),
    png(NOISE, chunks=[(b"eXIf", exif_block(place=True)[6:])]),
    jpeg(exif=exif_block(place=True), xmp=XMP),
]


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
@settings(max_examples=150, deadline=None)
@given(st.data())
def test_damage_is_never_a_bare_error(tmp_path_factory, data):
    """Bytes changed or cut anywhere give a picture or a remedy, nothing else."""
    content = bytearray(data.draw(st.sampled_from(SOUND)))
    near = min(len(content), data.draw(st.sampled_from([64, 900, len(content)])))
    for _ in range(data.draw(st.integers(0, 4))):
        content[data.draw(st.integers(0, near - 1))] = data.draw(st.integers(0, 255))
    if data.draw(st.booleans()):
        content = content[: data.draw(st.integers(0, len(content)))]
    folder = tmp_path_factory.mktemp("damage")
    path = folder / "master"
    path.write_bytes(content)
    try:
        with open_master(path, cache_folder=folder) as master:
            light = master.linear(Box(0, 0, 1, 1))
            assert np.all((light >= 0) & (light <= 1))
    except PrintPlanError as error:
        remedy = error.remedy
    else:
        remedy = "none needed"
    assert remedy
