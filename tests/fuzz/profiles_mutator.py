"""Changes that damage a profile, drawn from a seeded generator."""

import struct
from dataclasses import dataclass

HEAD = 132
"""Header and count of tags: ICC.1:2022, 7.2 and 7.3."""

FIELDS = (0, 1, 2, 3, 0x7FFF, 0xFFFF, 0x10000, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
TYPES = (
    *(b"mft1", b"mft2", b"mAB ", b"mBA ", b"mpet", b"curv", b"para", b"XYZ "),
    *(b"sf32", b"text", b"desc", b"mluc", b"ncl2", b"\0\0\0\0"),
)
NAMES = (
    *(b"A2B0", b"A2B1", b"B2A0", b"B2A1", b"B2A2", b"D2B0", b"B2D1", b"kTRC", b"rTRC"),
    *(b"rXYZ", b"wtpt", b"chad", b"desc", b"gamt"),
)
CLASSES = (b"prtr", b"mntr", b"scnr", b"spac", b"link", b"abst", b"nmcl")
SPACES = (b"RGB ", b"GRAY", b"CMYK", b"Lab ", b"XYZ ", b"6CLR", b"\0\0\0\0")


@dataclass
class Tag:
    row: int
    name: bytes
    offset: int
    size: int


def tags_of(data):
    """Rows of the tag table whose elements lie inside the file."""
    if len(data) < HEAD:
        return []
    (count,) = struct.unpack_from(">I", data, 128)
    found = []
    for row in range(HEAD, min(HEAD + 12 * count, len(data) - 11), 12):
        name, offset, size = struct.unpack_from(">4sII", data, row)
        if size >= 12 and offset + size <= len(data):
            found.append(Tag(row, name, offset, size))
    return found


def mutated(data, rng):
    """The profile with one to three changes, and their names."""
    data, done = bytearray(data), []
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        change = rng.choice(CHANGES)
        if len(data) > HEAD + 12:
            change(data, rng)
            done.append(change.__name__)
    return bytes(data), done


def _place(data, rng):
    """A byte, mostly of the header, the tag table or the head of an element."""
    tags = tags_of(data)
    where = rng.random()
    if where < 0.2 or not tags:
        return rng.randrange(min(HEAD + 12 * max(len(tags), 1), len(data)))
    tag = rng.choice(tags)
    reach = tag.size if where < 0.5 else min(tag.size, 64)
    return tag.offset + rng.randrange(reach)


def flip_bits(data, rng):
    for _ in range(rng.choice((1, 1, 2, 8, 32))):
        data[_place(data, rng)] ^= 1 << rng.randrange(8)


def set_bytes(data, rng):
    for _ in range(rng.choice((1, 2, 4))):
        data[_place(data, rng)] = rng.choice((0, 1, 2, 127, 128, 254, 255))


def set_field(data, rng):
    place = min(_place(data, rng) // 4 * 4, len(data) - 4)
    near = struct.unpack_from(">I", data, place)[0] + rng.choice((-1, 1, 4))
    value = rng.choice((*FIELDS, len(data), near % 2**32))
    struct.pack_into(">I", data, place, value)


def set_short(data, rng):
    place = min(_place(data, rng) // 2 * 2, len(data) - 2)
    struct.pack_into(">H", data, place, rng.choice((0, 1, 2, 4096, 0x7FFF, 0xFFFF)))


def cut(data, rng):
    """The end is lost, with or without the header knowing."""
    del data[rng.randrange(HEAD, len(data)) :]
    if rng.random() < 0.6:
        struct.pack_into(">I", data, 0, len(data))


def grow(data, rng):
    data += rng.randbytes(rng.choice((1, 3, 4, 400)))
    if rng.random() < 0.5:
        struct.pack_into(">I", data, 0, len(data))


def shorten_tag(data, rng):
    """An element of fewer bytes than its content says."""
    if tags := tags_of(data):
        tag = rng.choice(tags)
        size = rng.choice((8, 9, 10, 11, 12, 16, 20, 32, 48, 52, tag.size - 1))
        struct.pack_into(">I", data, tag.row + 8, size)


def swap_tags(data, rng):
    if len(tags := tags_of(data)) > 1:
        one, other = rng.sample(tags, 2)
        struct.pack_into(">II", data, one.row + 4, other.offset, other.size)
        struct.pack_into(">II", data, other.row + 4, one.offset, one.size)


def rename_tag(data, rng):
    """Lost, or in the place of another, or there twice."""
    if tags := tags_of(data):
        names = (*NAMES, *(it.name for it in tags), b"none")
        struct.pack_into(">4s", data, rng.choice(tags).row, rng.choice(names))


def retype_tag(data, rng):
    if tags := tags_of(data):
        struct.pack_into(">4s", data, rng.choice(tags).offset, rng.choice(TYPES))


def retype_profile(data, rng):
    place, choices = rng.choice(((12, CLASSES), (16, SPACES), (20, SPACES)))
    struct.pack_into(">4s", data, place, rng.choice(choices))
    if rng.random() < 0.3:
        data[8] = rng.choice((0, 2, 4, 5, 255))


def spoil_curve(data, rng):
    """Level, falling, a threshold, without end, or no number at all."""
    curves = _elements(data, (b"curv", b"para"))
    if not curves:
        return
    at = rng.choice(curves)
    if data[at : at + 4] == b"para":
        struct.pack_into(">H", data, at + 8, rng.choice((0, 0, 1, 2, 3, 4, 5, 9)))
        for place in range(at + 12, min(at + 40, len(data) - 4), 4):
            if rng.random() < 0.4:
                struct.pack_into(">i", data, place, _fixed(rng))
        return
    (count,) = struct.unpack_from(">I", data, at + 8)
    end = min(at + 12 + 2 * count, len(data))
    kind = rng.randrange(5)
    if kind == 0:
        struct.pack_into(">I", data, at + 8, rng.choice((0, 1, 2, 3, count + 1)))
    elif kind == 1:
        data[at + 12 : end] = bytes([rng.choice((0, 1, 128, 255))]) * (end - at - 12)
    elif kind == 2:
        data[at + 12 : end] = data[at + 12 : end][::-1]
    elif kind == 3:
        data[at + 12 : end] = rng.randbytes(end - at - 12)
    else:
        middle = (at + 12 + end) // 4 * 2
        data[at + 12 : middle] = bytes(middle - at - 12)
        data[middle:end] = b"\xff" * (end - middle)


def spoil_colour(data, rng):
    """A colorant or a white of no light, or of far too much."""
    if found := _elements(data, (b"XYZ ",)):
        at = rng.choice(found)
        same = rng.choice((None, None, 0))
        for place in range(at + 8, min(at + 20, len(data) - 4), 4):
            value = _fixed(rng) if same is None else same
            struct.pack_into(">i", data, place, value)


def spoil_counts(data, rng):
    """Channels, grid points and entries of tables."""
    found = _elements(data, (b"mft1", b"mft2", b"mAB ", b"mBA "))
    if not found:
        return
    at = rng.choice(found)
    for place in (at + 8, at + 9, at + 10):
        if rng.random() < 0.5:
            data[min(place, len(data) - 1)] = rng.choice((0, 1, 2, 3, 4, 15, 16, 255))
    if bytes(data[at : at + 3]) in {b"mAB", b"mBA"} and at + 32 < len(data):
        (grid,) = struct.unpack_from(">I", data, at + 24)
        for place in range(at + grid, at + grid + 17):
            if place < len(data) and rng.random() < 0.5:
                data[place] = rng.choice((0, 1, 2, 255))


def spoil_table(data, rng):
    """A stretch of a table emptied, filled, turned round or made noise."""
    found = [it for it in tags_of(data) if data[it.offset : it.offset + 1] == b"m"]
    if not found:
        return
    tag = rng.choice(found)
    start = tag.offset + rng.randrange(tag.size)
    if rng.random() < 0.4:
        start = tag.offset + min(52, tag.size - 1)
    end = tag.offset + tag.size
    if rng.random() < 0.5:
        end = rng.randrange(start, end) + 1
    fill = rng.randrange(4)
    data[start:end] = (
        bytes(end - start),
        b"\xff" * (end - start),
        data[start:end][::-1],
        rng.randbytes(end - start),
    )[fill]


def _elements(data, types):
    """Where elements of a type begin, those within tables too."""
    found = []
    for kind in types:
        at = data.find(kind, HEAD)
        while at >= 0 and len(found) < 200:
            if at + 12 <= len(data):
                found.append(at)
            at = data.find(kind, at + 4)
    return found


def _fixed(rng):
    least, most = -(2**31), 2**31 - 1
    drawn = rng.randint(least, most)
    return rng.choice((0, 0, 1, -1, 65536, -65536, least, most, drawn))


CHANGES = (
    *(flip_bits, set_bytes, set_field, set_short, cut, grow, shorten_tag, swap_tags),
    *(rename_tag, retype_tag, retype_profile, spoil_curve, spoil_curve, spoil_colour),
    *(spoil_counts, spoil_counts, spoil_table, spoil_table),
)
