"""Small sound profiles of every kind that is read, for the mutator of profiles."""

from pathlib import Path

import numpy as np

from printplan.colour.icc_file import (
    D50_XYZ,
    IccHeader,
    description_element,
    gamma_curve_element,
    identity_curve_element,
    localized_element,
    lut16_element,
    sampled_curve_element,
    stages_element,
    text_element,
    toe_curve_element,
    write_icc,
    xyz_element,
)
from printplan.colour.spaces import decode, grey_profile, named_profile
from printplan.colour.transforms import device_to_lab, lab_to_device
from printplan.spec import NamedSpace

POINTS = 9
FOGRA39 = Path(__file__).parent.parent / "data" / "FOGRA39L_coated.icc"
STRAIGHT = np.tile(np.array([0, 65535], np.uint16), (3, 1))
# CIELAB of lut8Type, lutAToBType and lutBToAType runs over 0 to 100 and -128 to 127;
# in lut16Type L* 100 is 0xFF00 (ICC.1:2022, 6.3.4.2 and 10.10).
FULL, LEGACY = 65535.0, 65280.0


def lattice():
    axis = np.linspace(0, 1, POINTS)
    return np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)


def to_lab(top):
    """CIELAB of sRGB's own values, as codes of a table."""
    lab = device_to_lab(lattice(), "srgb")
    coded = (lab + np.array([0, 128, 128])) / [100, 255, 255]
    return np.clip(np.rint(coded * top), 0, 65535).astype(np.uint16)


def to_device(top):
    coded = np.minimum(lattice() * 65535 / top, 1.0)
    return lab_to_device(coded * [100, 255, 255] - [0, 128, 128], "srgb")


def tags(version, white=(0.85, 0.88, 0.71)):
    name = localized_element if version[0] >= 4 else description_element
    rights = localized_element if version[0] >= 4 else text_element
    return {
        "desc": name("Invented, for mutation"),
        "cprt": rights("None"),
        "wtpt": xyz_element(white),
    }


def profile(space, pcs, version, more, device_class="prtr"):
    header = IccHeader(version=version, device_class=device_class, space=space, pcs=pcs)
    return write_icc(header, tags(version) | more)


def lut8(grid):
    """A lut8Type with straight curves of 256 entries (ICC.1:2022, 10.11)."""
    head = b"mft1" + bytes(4) + bytes([3, 3, len(grid), 0])
    unit = np.eye(3).ravel() * 65536
    straight = bytes(range(256)) * 3
    codes = np.rint(grid / 257).astype(np.uint8).tobytes()
    return head + unit.astype(">i4").tobytes() + straight + codes + straight


def stages(kind, grid):
    """All five stages, the outer ones by formula."""
    power, back = gamma_curve_element(1.1), gamma_curve_element(1 / 1.1)
    a = [power, identity_curve_element(), back]
    b = [identity_curve_element()] * 3
    return stages_element(kind, b=b, matrix=np.eye(3, 4), m=b, grid=grid, a=a)


def sampled_matrix():
    codes = np.rint(decode(NamedSpace.SRGB, np.linspace(0, 1, 256)) * 65535)
    curve = sampled_curve_element(codes.astype(np.uint16))
    # sRGB's colorants under D50 by their usual four decimals, from memory.
    red, green = (0.4361, 0.2225, 0.0139), (0.3851, 0.7169, 0.0971)
    blue = tuple(np.subtract(D50_XYZ, np.add(red, green)).tolist())
    return {
        **{f"{it}TRC": curve for it in "rgb"},
        "rXYZ": xyz_element(red),
        "gXYZ": xyz_element(green),
        "bXYZ": xyz_element(blue),
    }


def seeds():
    """Content of each by its name."""
    v2, v4 = (2, 4), (4, 4)
    grey = toe_curve_element(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    there8, back8 = lut8(to_lab(FULL)), lut8(to_device(FULL))
    there16 = lut16_element(STRAIGHT, to_lab(LEGACY), STRAIGHT)
    back16 = lut16_element(STRAIGHT, to_device(LEGACY), STRAIGHT)
    there, back = stages("mAB", to_lab(FULL)), stages("mBA", to_device(FULL))
    tables16 = {"A2B0": there16, "A2B1": there16, "B2A0": back16, "B2A1": back16}
    tables = {"A2B0": there, "A2B1": there, "B2A0": back, "B2A1": back}
    return {
        "matrix, formula": named_profile(NamedSpace.SRGB).data,
        "matrix, power": named_profile(NamedSpace.OPRGB).data,
        "matrix, samples": profile("RGB", "XYZ", v2, sampled_matrix(), "mntr"),
        "grey": grey_profile(NamedSpace.SRGB).data,
        "grey output": profile("GRAY", "XYZ", v2, {"kTRC": grey}),
        "lut8": profile("RGB", "Lab", v2, {"A2B0": there8, "B2A0": back8}),
        "lut16": profile("RGB", "Lab", v2, tables16),
        "lut16 CMYK": FOGRA39.read_bytes(),
        "stages": profile("RGB", "Lab", v4, tables),
        "stages, display": profile("RGB", "Lab", v4, tables, "mntr"),
    }
