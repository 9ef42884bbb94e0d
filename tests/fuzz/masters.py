"""
Damaged masters: refused in words, or read; nothing else, and soon.

    python tests/fuzz/masters.py --count 5000
    python tests/fuzz/masters.py --flips 200

Each case is a small sound file with one to four changes, drawn from a seed, and is
opened and read whole in this one process. It must end within 10 seconds in pixels or in
an error of printplan's; this process may not grow by 1 GB. With ``--flips`` single
bits inside the pixels are turned instead, and the share that no decoder notices is
told, format by format.
"""

import argparse
import io
import random
import resource
import struct
import sys
import tempfile
import warnings
import zlib
from collections import Counter
from pathlib import Path
from time import monotonic

import imagecodecs
import numpy as np
import tifffile
from PIL import Image

from printplan.colour.spaces import named_profile
from printplan.errors import PrintPlanError
from printplan.pixels.master import open_master
from printplan.sizing.boxes import Box
from printplan.spec import AlphaRule, NamedSpace

MOST_BYTES, MOST_S = 1_000_000_000, 10.0
REFUSED, SAME, OTHER = "refused", "same pixels", "other pixels"


def picture(rows=96, columns=128):
    """Tones, an edge and grain, so that no format packs it to nothing."""
    dice = np.random.default_rng(7)
    down, across = np.mgrid[:rows, :columns]
    tones = 0.4 + 0.3 * np.sin(down / 11) * np.cos(across / 13) + 0.2 * (across > down)
    return np.clip(tones[..., None] + dice.normal(0, 0.02, (rows, columns, 3)), 0, 1)


def as_tiff(pixels, **how):
    out = io.BytesIO()
    profile = named_profile(NamedSpace.SRGB).data
    tifffile.imwrite(out, pixels, photometric="rgb", iccprofile=profile, **how)
    return out.getvalue()


def as_jpeg(pixels, **how):
    out = io.BytesIO()
    profile = named_profile(NamedSpace.SRGB).data
    Image.fromarray(pixels).save(out, "JPEG", quality=92, icc_profile=profile, **how)
    return out.getvalue()


def as_png(pixels):
    """With its profile, in front of the pixels (ISO/IEC 15948, 11.3.2.3)."""
    bare = imagecodecs.png_encode(pixels)
    content = b"space\0\0" + zlib.compress(named_profile(NamedSpace.SRGB).data)
    chunk = b"iCCP" + content
    chunk = (
        struct.pack(">I", len(content)) + chunk + struct.pack(">I", zlib.crc32(chunk))
    )
    return bare[:33] + chunk + bare[33:]


def seeds():
    """A sound file of each kind by its name."""
    whole = picture()
    eight, sixteen = (whole * 255).astype(np.uint8), (whole * 65535).astype(np.uint16)
    kinds = {
        "TIFF plain": as_tiff(sixteen),
        "TIFF plain, big endian, planar": as_tiff(
            sixteen.transpose(2, 0, 1).copy(), planarconfig="separate", byteorder=">"
        ),
        "TIFF floating": as_tiff(whole.astype(np.float32), compression="deflate"),
        "TIFF JPEG": as_tiff(eight, compression="jpeg", rowsperstrip=32),
        "PNG": as_png(sixteen),
        "JPEG": as_jpeg(eight),
        "JPEG progressive": as_jpeg(eight, progressive=True, subsampling=0),
    }
    for name in ("deflate", "lzw", "packbits", "zstd", "lzma"):
        kinds[f"TIFF {name}"] = as_tiff(sixteen, compression=name, rowsperstrip=16)
    kinds["BigTIFF lzw, tiles"] = as_tiff(
        sixteen, compression="lzw", tile=(32, 48), bigtiff=True, predictor=True
    )
    return kinds


def one_byte(data, dice):
    data[dice.randrange(len(data))] = dice.randrange(256)


def byte_at_the_start(data, dice):
    data[dice.randrange(min(len(data), 600))] = dice.randrange(256)


def bit(data, dice):
    data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)


def number(data, dice):
    """A count, an offset, a size: any of them may be one of these."""
    size = dice.choice((2, 4, 8))
    at = dice.randrange(0, max(1, min(len(data) - 8, 1200)), 2)
    value = dice.choice(
        (0, 1, 2**15, 2**31 - 1, 2**31, 2**32 - 1, 2**63, len(data), at)
    )
    order = dice.choice(("little", "big"))
    data[at : at + size] = (value % 256**size).to_bytes(size, order)


def cut(data, dice):
    del data[dice.randrange(len(data)) :]


def doubled(data, dice):
    start = dice.randrange(len(data))
    data[start:start] = data[start : start + dice.randrange(1, 2000)]


def removed(data, dice):
    start = dice.randrange(len(data))
    del data[start : start + dice.randrange(1, 400)]


def zeros(data, dice):
    start = dice.randrange(len(data))
    length = len(data[start : start + dice.randrange(1, 3000)])
    data[start : start + length] = bytes(length)


def tag(data, dice):
    """Type, count or value of an entry of the first directory (TIFF 6.0, section 2)."""
    order = "<" if data[:2] == b"II" else ">"
    if data[:2] not in (b"II", b"MM") or len(data) < 16:
        return one_byte(data, dice)
    (start,) = struct.unpack_from(f"{order}I", data, 4)
    entry = start + 2 + 12 * dice.randrange(20)
    if entry + 12 > len(data):
        return one_byte(data, dice)
    field, place = dice.choice((("H", 0), ("H", 2), ("I", 4), ("I", 8)))
    largest = 2 ** (8 * struct.calcsize(field)) - 1
    value = dice.choice((0, 1, 2, 8, dice.randrange(2**16), largest))
    struct.pack_into(order + field, data, entry + place, value)
    return None


CHANGES = (
    *(one_byte, byte_at_the_start, bit, number, number, tag, tag),
    *(cut, doubled, removed, zeros),
)


def cases(count, seed):
    """Name, kind and content of each case, the same for the same seed."""
    known = list(seeds().items())
    for index in range(count):
        dice = random.Random(seed * 1_000_003 + index)  # noqa: S311 - repeatable
        kind, sound = known[index % len(known)]
        data = bytearray(sound)
        changes = [dice.choice(CHANGES) for _ in range(dice.randrange(1, 5))]
        for change in changes:
            if data:
                change(data, dice)
        names = " + ".join(it.__name__ for it in changes)
        yield f"{index}: {kind}, {names}", kind, bytes(data)


def flips(count, seed):
    """The same with one bit turned behind what describes the picture."""
    for kind, sound in seeds().items():
        for index in range(count):
            dice = random.Random(seed * 1_000_003 + index)  # noqa: S311 - repeatable
            data = bytearray(sound)
            first, last = pixels_of(sound)
            at = dice.randrange(first, last)
            data[at] ^= 1 << dice.randrange(8)
            yield f"{index}: {kind}, bit at {at}", kind, bytes(data)


def pixels_of(sound):
    """Where the packed pixels of a sound file begin and end."""
    if sound[:2] in (b"II", b"MM"):
        with tifffile.TiffFile(io.BytesIO(sound)) as tiff:
            page = tiff.pages[0]
            starts, counts = page.dataoffsets, page.databytecounts
            return starts[0], starts[-1] + counts[-1]
    mark = b"\xff\xda" if sound[:2] == b"\xff\xd8" else b"IDAT"
    return sound.index(mark) + 14, len(sound) - 20


class Trial:
    """A folder in which files are opened one after the other."""

    def __init__(self, folder):
        self.path, self.cache = folder / "master", folder / "cache"
        self.sound = {kind: self.pixels(data) for kind, data in seeds().items()}

    def pixels(self, data):
        self.path.write_bytes(data)
        try:
            with open_master(
                self.path, cache_folder=self.cache, alpha=AlphaRule.FLATTEN
            ) as master:
                width_px, height_px = master.facts.width_px, master.facts.height_px
                return master.linear(Box(0, 0, width_px, height_px))
        finally:
            for copy in self.cache.glob("*"):
                copy.unlink()

    def outcome(self, kind, data):
        """What became of a file; whatever is raised but a refusal goes on."""
        try:
            pixels = self.pixels(data)
        except PrintPlanError as error:
            return REFUSED if error.remedy else "refused without a remedy"
        return SAME if np.array_equal(pixels, self.sound[kind]) else OTHER


def run(some, *, keep=None):
    """Count what became of the cases, by kind; and name those that must not be."""
    outcomes, faults, longest_s = Counter(), [], 0.0
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with tempfile.TemporaryDirectory(prefix="printplan-masters-") as folder:
        trial = Trial(Path(folder))
        for name, kind, data in some:
            began_s = monotonic()
            try:
                outcome = trial.outcome(kind, data)
            except Exception as error:  # noqa: BLE001 - what is looked for
                outcome = f"{type(error).__name__}: {error}"
            took_s = monotonic() - began_s
            longest_s = max(longest_s, took_s)
            outcomes[kind, outcome] += 1
            if outcome not in (REFUSED, SAME, OTHER) or took_s > MOST_S:
                faults.append(f"{name}: {outcome[:300]} after {took_s:.1f} s")
                if keep is not None:
                    (keep / name.split(":")[0]).write_bytes(data)
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024
    if grown > MOST_BYTES:
        faults.append(f"this process grew by {grown / 1e6:.0f} MB")
    return outcomes, faults, longest_s


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=0)
    parser.add_argument("--flips", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    given = parser.parse_args()
    if given.keep is not None:
        given.keep.mkdir(parents=True, exist_ok=True)
    some = flips if given.flips else cases
    count = given.flips or given.count or 300
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        outcomes, faults, longest_s = run(some(count, given.seed), keep=given.keep)
    for kind in seeds():
        found = {it: outcomes[kind, it] for it in (REFUSED, SAME, OTHER)}
        print(f"{kind:32}", *(f"{n:6} {it}" for it, n in found.items()))
    print(f"{sum(outcomes.values())} cases, the longest took {longest_s:.2f} s")
    print(*faults or ["No fault."], sep="\n")
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main())
