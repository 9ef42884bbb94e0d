"""Output profiles with one known flaw, made out of a sound one; and a grey one."""

import struct

import numpy as np

from printplan.colour.icc_file import (
    IccHeader,
    description_element,
    lut16_element,
    read_icc,
    sampled_curve_element,
    text_element,
    write_icc,
    xyz_element,
)
from printplan.colour.profiles import profile_from_bytes


def rewritten(profile, *, header=None, **changes):
    """The profile with other tags; an empty one is left out."""
    data = rewritten_bytes(profile.data, header=header, **changes)
    return profile_from_bytes(data, where="a test")


def rewritten_bytes(data, *, header=None, **changes):
    """The same, without asking whether it is a profile."""
    icc = read_icc(data, where="a test")
    tags = {**icc.tags, **changes}
    return write_icc(
        header or icc.header, {tag: data for tag, data in tags.items() if data}
    )


def with_grid(profile, tag, change):
    """The profile with the grid of one lut16 table changed: codes in, codes out."""
    element = read_icc(profile.data, where="a test").tags[tag]
    assert element[:4] == b"mft2"
    inputs, outputs, points = element[8:11]
    before, after = struct.unpack_from(">HH", element, 48)
    codes = np.frombuffer(element, ">u2", offset=52).astype(np.uint16)
    parts = np.split(
        codes, np.cumsum([inputs * before, points**inputs * outputs, outputs * after])
    )
    grid = parts[1].reshape(*[points] * inputs, outputs)
    changed = change(grid.astype(np.int64))
    return rewritten(
        profile,
        **{
            tag: lut16_element(
                parts[0].reshape(inputs, before),
                np.clip(changed, 0, 65535).astype(np.uint16),
                parts[2].reshape(outputs, after),
            )
        },
    )


def emptied(profile, *tags):
    """The profile with nothing but zeros in some of its tables."""
    for tag in tags:
        profile = with_grid(profile, tag, lambda grid: grid * 0)
    return profile


def grey_output_profile(black_y=0.02, gamma=1.8):
    """
    An output profile for grey: a tone curve from the paper's black to its white.

    ICC.1:2022, 8.4.3 and annex F.2: the connection space is D50 times the curve.
    """
    level = np.linspace(0, 1, 1024)
    light = black_y + (1 - black_y) * level**gamma
    header = IccHeader(version=(2, 4), device_class="prtr", space="GRAY", pcs="XYZ")
    return profile_from_bytes(
        write_icc(
            header,
            {
                "desc": description_element("Invented grey matte"),
                "cprt": text_element("None, for tests"),
                "wtpt": xyz_element((0.85, 0.88, 0.71)),
                "kTRC": sampled_curve_element(np.rint(light * 65535).astype(np.uint16)),
            },
        ),
        where="a test",
    )
