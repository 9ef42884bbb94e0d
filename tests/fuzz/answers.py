"""
Printers' answers, mutated: is each a printer, or refused in words?

    python tests/fuzz/answers.py --count 20000 --seed 1

A line for each failure with its seed, which makes the same answer again. Exit status 1
if there was any.
"""

import argparse
import random
import struct
import sys
from collections import Counter
from time import monotonic

from printplan.errors import PrintPlanError
from printplan.record.ipp.keywords import GroupTag, ValueTag
from printplan.record.ipp.message import (
    Attribute,
    Group,
    Message,
    Range,
    Resolution,
    Value,
    decode_message,
    encode_message,
)
from printplan.record.ipp.printer_description import described_printer

LONGEST_S = 2.0
NUMBERS = [0, 1, -1, 2**31 - 1, -(2**31), 255, 65535]
READ, REFUSED = "read", "refused"


def attribute(name, tag, *contents):
    return Attribute(name, tuple(Value(tag, content) for content in contents))


def size(across, along):
    edges = (("x-dimension", across), ("y-dimension", along))
    return tuple(attribute(name, ValueTag.INTEGER, length) for name, length in edges)


def medium(source):
    margins = ("top", "bottom", "left", "right")
    return (
        attribute("media-size", ValueTag.BEGIN_COLLECTION, size(21000, 29700)),
        *(attribute(f"media-{it}-margin", ValueTag.INTEGER, 300) for it in margins),
        attribute("media-source", ValueTag.KEYWORD, source),
    )


def sound():
    """An answer of a printer with a tray and a roll, as `described_printer` reads."""
    tag = ValueTag
    inks = [
        b"type=ink;class=supplyThatIsConsumed;colorantname=black;",
        b"type=ink;class=supplyThatIsConsumed;colorantname=cyan;",
    ]
    sheets = medium("main"), medium("main-roll")
    attributes = (
        attribute("printer-info", tag.TEXT_WITHOUT_LANGUAGE, "Tern Loft"),
        attribute("printer-name", tag.NAME_WITHOUT_LANGUAGE, "tern"),
        attribute(
            "printer-resolution-supported",
            tag.RESOLUTION,
            Resolution(600, 600),
            Resolution(1200, 600),
        ),
        attribute("print-quality-supported", tag.ENUM, 3, 4, 5),
        attribute("media-type-supported", tag.KEYWORD, "auto", "photographic"),
        attribute("media-source-supported", tag.KEYWORD, "main", "main-roll"),
        attribute("media-col-database", tag.BEGIN_COLLECTION, *sheets),
        attribute("media-col-ready", tag.BEGIN_COLLECTION, sheets[0]),
        attribute("media-size-supported", tag.BEGIN_COLLECTION, size(21000, 29700)),
        attribute("media-thickness-supported", tag.RANGE_OF_INTEGER, Range(1, 100)),
        attribute("media-top-margin-supported", tag.INTEGER, 0, 300),
        attribute("media-left-margin-supported", tag.INTEGER, 300),
        attribute("printer-supply", tag.OCTET_STRING, *inks),
        attribute(
            "printer-supply-description", tag.TEXT_WITHOUT_LANGUAGE, "Black", "Cyan"
        ),
        attribute("pwg-raster-document-type-supported", tag.KEYWORD, "srgb_8"),
        attribute(
            "printer-input-tray", tag.OCTET_STRING, b"type=continuousRoll;name=roll;"
        ),
    )
    group = Group(GroupTag.PRINTER_ATTRIBUTES, attributes)
    return encode_message(Message(code=0, groups=(group,)))


def case(seed):
    """The answer of a seed."""
    draw = random.Random(seed)  # noqa: S311 - to be had again, not to be secret
    data = bytearray(sound())
    for _ in range(draw.choice([1, 1, 2, 4])):
        at = draw.randrange(8, len(data))
        match draw.choice(["flip", "number", "cut", "grow", "tag"]):
            case "flip":
                data[at] ^= 1 << draw.randrange(8)
            case "number":
                data[at : at + 4] = struct.pack(">i", draw.choice(NUMBERS))
            case "cut":
                return bytes(data[:at])
            case "grow":
                data[at:at] = draw.randbytes(draw.choice([1, 4, 30]))
            case "tag":
                data[at] = draw.choice(list(ValueTag))
    return bytes(data)


def ended(data):
    """How the reading of an answer ends."""
    began_s = monotonic()
    try:
        reply = decode_message(data)
        described_printer(reply.attributes(GroupTag.PRINTER_ATTRIBUTES))
        end = READ
    except PrintPlanError as error:
        poor = not (str(error).isprintable() and len(str(error)) < 5000)
        end = f"a poor error: {error!r}" if poor else REFUSED
    except Exception as error:  # noqa: BLE001 - what is looked for
        end = f"foreign: {type(error).__name__}: {error}"
    took_s = monotonic() - began_s
    return end if took_s < LONGEST_S else f"took {took_s:.1f} s"


def main():
    """Try as many as asked."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--count", type=int, default=20_000)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    ends = Counter()
    for seed in range(given.seed, given.seed + given.count):
        end = ended(case(seed))
        ends[end] += 1
        if end not in {READ, REFUSED}:
            print(f"seed {seed}: {end}")
    print(", ".join(f"{count} {end}" for end, count in ends.most_common()))
    return 0 if set(ends) <= {READ, REFUSED} else 1


if __name__ == "__main__":
    sys.exit(main())
