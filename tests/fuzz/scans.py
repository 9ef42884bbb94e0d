"""
Scans, mutated: does each end in a reading or in an error of ours, in time?

    python tests/fuzz/scans.py --count 2000 --seed 1

Each case is read in a process of its own with a limit of memory, and has ten seconds.
A line for each kind of end, and one for each failure with its seed, which makes the
same file again. Exit status 1 if there was any failure.
"""

import argparse
import io
import multiprocessing
import random
import resource
import struct
import sys
import tempfile
import zlib
from collections import Counter
from functools import cache
from pathlib import Path
from time import monotonic

import imagecodecs
import numpy as np
import tifffile
from PIL import Image

from printplan.colour.spaces import named_profile
from printplan.errors import PrintPlanError
from printplan.pixels.trials.scan_file import read_scan
from printplan.spec import NamedSpace

LONGEST_S = 10.0
MOST_BYTES = 1_000_000_000
GREY_22 = imagecodecs.cms_profile("gray", whitepoint=(0.3457, 0.3585, 1.0), gamma=2.2)
SRGB = named_profile(NamedSpace.SRGB).data

# TIFF 6.0 and its supplements: what says how pixels lie, and what they are told by.
TAGS = [254, 256, 257, 258, 259, 262, 273, 274, 277, 278, 279, 282, 283, 284, 296]
TAGS += [317, 322, 323, 324, 325, 338, 339, 700, 34675, 34665, 34853]
NUMBERS = [0, 1, 2, 3, 7, 255, 256, 65535, 65536, 2**31 - 1, 2**31, 2**32 - 1]


def seeds():
    """Sound scans of 90 × 60 px, as scanners write them."""
    picture = np.random.default_rng(3).integers(0, 65536, (60, 90, 3), np.uint16)
    grey, few = picture[..., 0], (picture >> 8).astype(np.uint8)
    common = {"resolution": (1200, 1200), "resolutionunit": "inch", "metadata": None}
    for pixels, photometric, profile, more in [
        (picture, "rgb", SRGB, {}),
        (few, "rgb", SRGB, {"compression": "lzw", "predictor": True}),
        (grey, "minisblack", GREY_22, {"compression": "deflate", "rowsperstrip": 7}),
        (grey, "miniswhite", GREY_22, {"tile": (32, 32)}),
        (picture, "rgb", SRGB, {"byteorder": ">", "bigtiff": True}),
    ]:
        file = io.BytesIO()
        tifffile.imwrite(
            file, pixels, photometric=photometric, iccprofile=profile, **common, **more
        )
        yield file.getvalue(), ".tif"
    for pixels, profile, kind in [
        (grey, GREY_22, "png"),
        (few, SRGB, "png"),
        (few, SRGB, "jpeg"),
    ]:
        file = io.BytesIO()
        image = Image.fromarray(pixels)
        image.save(file, kind, dpi=(1200, 1200), icc_profile=profile)
        yield file.getvalue(), f".{kind}"


@cache
def _known():
    return list(seeds())


def mutated(data, ending, draw):
    """One file out of a sound one."""
    data = bytearray(data)
    ways = [flip, cut, grow, exchange, fill]
    if ending == ".tif":
        ways += [*[change_tag] * 6, ring]
    if ending == ".png":
        ways += [change_chunk] * 8 + [text_bomb]
    for _ in range(draw.choice([1, 1, 1, 2, 3])):
        data = bytearray(draw.choice(ways)(data, draw))
    return bytes(data)


def flip(data, draw):
    for _ in range(draw.choice([1, 2, 8])):
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
    return data


def cut(data, draw):
    return data[: draw.randrange(1, len(data))]


def grow(data, draw):
    return data + draw.randbytes(draw.choice([1, 100, 10_000]))


def exchange(data, draw):
    at, length = draw.randrange(len(data)), draw.choice([1, 4, 64])
    data[at : at + length] = draw.randbytes(length)
    return data


def fill(data, draw):
    at, length = draw.randrange(len(data)), draw.choice([4, 64, 4096])
    end = min(at + length, len(data))
    data[at:end] = bytes([draw.choice([0, 255])]) * (end - at)
    return data


def order_of(data):
    return ">" if data[:2] == b"MM" else "<"


def entries_of(data):
    """Places of the entries of the first directory, and how they are laid out."""
    order = order_of(data)
    if bytes(data[:2]) not in {b"II", b"MM"}:
        return
    (version,) = struct.unpack_from(f"{order}H", data, 2)
    head, count, entry = ("Q", "Q", 20) if version == 43 else ("I", "H", 12)
    at = struct.unpack_from(f"{order}{head}", data, 8 if version == 43 else 4)[0]
    number = struct.unpack_from(f"{order}{count}", data, at)[0]
    start = at + struct.calcsize(count)
    for index in range(min(number, 60)):
        if start + (index + 1) * entry <= len(data):
            yield start + index * entry, head


def change_tag(data, draw):
    """Another number, type, count or value in an entry of the directory."""
    try:
        places = list(entries_of(data))
        at, head = draw.choice(places)
        order, width = order_of(data), struct.calcsize(head)
        what = draw.choice(["tag", "type", "count", "value", "value", "value"])
        if what == "tag":
            struct.pack_into(f"{order}H", data, at, draw.choice(TAGS))
        elif what == "type":
            struct.pack_into(f"{order}H", data, at + 2, draw.choice([*range(20), 999]))
        elif what == "count":
            struct.pack_into(f"{order}{head}", data, at + 4, draw.choice(NUMBERS))
        else:
            value = draw.choice(NUMBERS)
            struct.pack_into(f"{order}{head}", data, at + 4 + width, value)
    except (struct.error, IndexError):
        return flip(data, draw)
    return data


def ring(data, draw):
    """A directory whose next one is itself, or one before it."""
    order = order_of(data)
    try:
        places = list(entries_of(data))
        at, head = places[-1]
        end = at + (20 if head == "Q" else 12)
        first = 16 if head == "Q" else 8
        struct.pack_into(f"{order}{head}", data, end, draw.choice([first, 8, end]))
    except (struct.error, IndexError):
        return flip(data, draw)
    return data


def chunks_of(data):
    at = 8
    while at + 12 <= len(data):
        (length,) = struct.unpack_from(">I", data, at)
        yield at, length
        at += 12 + length


def change_chunk(data, draw):
    """A byte of a chunk, with a sum that is right again."""
    try:
        at, length = draw.choice(list(chunks_of(data)))
        place = at + draw.choice([4, 8, 8, 8]) + draw.randrange(max(length, 1))
        data[place] = draw.choice([0, 1, 127, 128, 255, draw.randrange(256)])
        total = zlib.crc32(data[at + 4 : at + 8 + length])
        struct.pack_into(">I", data, at + 8 + length, total)
    except (struct.error, IndexError):
        return flip(data, draw)
    return data


def text_bomb(data, draw):
    """Compressed text of 100 MB, before the picture (PNG, zTXt)."""
    packed = zlib.compress(bytes(draw.choice([1_000_000, 100_000_000])), 9)
    body = b"zTXt" + b"Comment\0\0" + packed
    chunk = struct.pack(">I", len(body) - 4) + body
    chunk += struct.pack(">I", zlib.crc32(body))
    return data[:33] + chunk * draw.choice([1, 3]) + data[33:]


def case(seed):
    """The file of a seed, and its ending."""
    draw = random.Random(seed)  # noqa: S311 - to be had again, not to be secret
    data, ending = draw.choice(_known())
    return mutated(data, ending, draw), ending


def ended(path):
    """How the reading of a file ends: a kind of error, or ``read``."""
    try:
        scan = read_scan(path)
    except PrintPlanError as error:
        if not (error.remedy and f"{error}".isprintable()):
            return f"a poor error: {error!r}"
        return type(error).__name__
    except Exception as error:  # noqa: BLE001 - what is looked for
        return f"foreign: {type(error).__name__}: {error}"
    if not (np.isfinite(scan.linear).all() and scan.linear.min() >= 0):
        return "pixels that are no light"
    return "read" if scan.linear.max() <= 1 else "light above 1"


SOUND = {"read", "MasterError", "ProfileError", "SpecError"}


def tried(seeds_given, folder, *, tell=None):
    """How often each end came, the failures with their seeds, and the longest time."""
    ends, failures, slowest_s = Counter(), [], 0.0
    for seed in seeds_given:
        data, ending = case(seed)
        path = Path(folder) / f"scan-{seed}{ending}"
        path.write_bytes(data)
        began_s = monotonic()
        end = ended(path)
        took_s = monotonic() - began_s
        path.unlink()
        slowest_s = max(slowest_s, took_s)
        if took_s > LONGEST_S:
            end = f"took {took_s:.1f} s"
        ends[end if end in SOUND else "failure"] += 1
        if end not in SOUND:
            failures.append((seed, end))
            if tell is not None:
                tell(f"seed {seed}: {end}")
    return ends, failures, slowest_s


def _work(seeds_given, queue):
    resource.setrlimit(resource.RLIMIT_DATA, (MOST_BYTES, MOST_BYTES))
    with tempfile.TemporaryDirectory() as folder:
        found = tried(seeds_given, folder, tell=print)
    queue.put(found)


def main():
    """Try as many as asked."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--count", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    context = multiprocessing.get_context("spawn")
    queue = context.Queue()
    numbers = range(given.seed, given.seed + given.count)
    process = context.Process(target=_work, args=(numbers, queue))
    began_s = monotonic()
    process.start()
    process.join(given.count * LONGEST_S)
    if process.is_alive() or queue.empty():
        process.kill()
        print(f"The process ended with {process.exitcode}, or not at all.")
        return 1
    ends, failures, slowest_s = queue.get()
    took_s = monotonic() - began_s
    print(f"{given.count} scans in {took_s:.0f} s, the slowest {slowest_s:.1f} s:")
    for end, count in ends.most_common():
        print(f"  {count:6} {end}")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
