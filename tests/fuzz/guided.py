"""
Our own parsers, with damage that is led to code not seen before.

    python -m pip install atheris
    python tests/fuzz/guided.py icc [folder of seeds] -max_total_time=60

The first word names a parser; what follows goes to libFuzzer, which atheris carries.
Ends with the damage in a file, and its trace, if anything but an error of printplan's
is raised, or if one input takes longer than ten seconds or a gigabyte.
"""

import sys
from contextlib import suppress

import atheris

with atheris.instrument_imports(include=["printplan"]):
    from printplan.colour.icc_file import read_icc
    from printplan.colour.profiles import profile_from_bytes
    from printplan.errors import PrintPlanError
    from printplan.pixels.jpeg_structure import check_jpeg
    from printplan.pixels.master_file import parse_exif, provenance_from_xmp
    from printplan.record.ipp.message import decode_message
    from printplan.record.paper_book import parse_book
    from printplan.record.plan_file import parse_plan_text
    from printplan.record.record_file import parse_record_text
    from printplan.units import parse_length_mm

HERE = "what was tried"


def of_text(parse):
    return lambda data: parse(data.decode("utf-8", "surrogateescape"))


def of_profile(parse):
    """With the length and mark that every profile has (ICC.1:2022, 7.2)."""
    return lambda data: parse(
        len(data).to_bytes(4) + data[4:36] + b"acsp" + data[40:], where=HERE
    )


PARSERS = {
    "icc": of_profile(read_icc),
    "profile": of_profile(profile_from_bytes),
    "jpeg": check_jpeg,
    "xmp": provenance_from_xmp,
    "exif": parse_exif,
    "ipp": decode_message,
    "book": of_text(lambda text: parse_book(text, HERE)),
    "plan": of_text(lambda text: parse_plan_text(text, where=HERE)),
    "record": of_text(lambda text: parse_record_text(text, where=HERE)),
    "length": of_text(parse_length_mm),
}


def main():
    names = [it for it in sys.argv[1:2] if it in PARSERS]
    if not names:
        print(__doc__, "Parsers:", *PARSERS)
        return 2
    parse = PARSERS[names[0]]

    def tried(data):
        with suppress(PrintPlanError):  # none of which can be made without a remedy
            parse(data)

    given = [sys.argv[0], *sys.argv[2:], "-timeout=10", "-rss_limit_mb=1024"]
    atheris.Setup(given, tried)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())
