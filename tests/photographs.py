"""Real photographs as masters, for tests: tagged, converted, or deliberately spoilt."""

from pathlib import Path

import numpy as np
import tifffile
from PIL import Image

from printplan.colour.spaces import decode, encode, named_profile, xyz_d50_from_linear
from printplan.spec import NamedSpace

SRGB, OPRGB, ROMM = NamedSpace.SRGB, NamedSpace.OPRGB, NamedSpace.ROMM_RGB
DEMO = Path(__file__).parent.parent / "demo_images"
REDUCED = Path(__file__).parent / "data" / "photographs"

# Pixels of each: three of the demo, whole, and six reduced ones.
PHOTOGRAPHS = {
    path.stem: path for path in sorted([*DEMO.glob("*.jpg"), *REDUCED.glob("*.jpg")])
}

_Y = xyz_d50_from_linear(SRGB)[1]


def tagged_jpeg(path, name, space=SRGB):
    """The photograph's own file with a profile put in: no pixel is coded again."""
    data = PHOTOGRAPHS[name].read_bytes()
    # ICC.1:2022, B.4: chunk 1 of 1 in a segment APP2 after the start of the image.
    chunk = b"ICC_PROFILE\0\x01\x01" + named_profile(space).data
    segment = b"\xff\xe2" + (len(chunk) + 2).to_bytes(2, "big") + chunk
    path.write_bytes(data[:2] + segment + data[2:])
    return path


def pixels(name, longest_px=None):
    """8-bit sRGB numbers, reduced if wanted."""
    with Image.open(PHOTOGRAPHS[name]) as image:
        rgb = image.convert("RGB")
        if longest_px is not None:
            scale = longest_px / max(rgb.size)
            size = (round(rgb.width * scale), round(rgb.height * scale))
            rgb = rgb.resize(size, Image.Resampling.LANCZOS)
        return np.asarray(rgb)


def converted(codes, space):
    """16-bit numbers of the same colours in another space, in floating point."""
    matrix = np.linalg.inv(xyz_d50_from_linear(space)) @ xyz_d50_from_linear(SRGB)
    linear = decode(SRGB, np.arange(256) / 255)
    out = np.empty(codes.shape, np.uint16)
    for top in range(0, len(codes), 256):
        light = np.clip(linear[codes[top : top + 256]] @ matrix.T, 0, 1)
        out[top : top + 256] = np.rint(encode(space, light) * 65535)
    return out


def grey(codes):
    """16-bit numbers of luminance in sRGB's curve, the same in all channels."""
    linear = decode(SRGB, np.arange(256) / 255)
    light = (linear[codes] @ _Y)[..., None].repeat(3, axis=-1)
    return np.rint(encode(SRGB, np.clip(light, 0, 1)) * 65535).astype(np.uint16)


def tagged_tiff(path, codes, space=SRGB):
    tifffile.imwrite(
        path,
        codes,
        photometric="rgb",
        iccprofile=named_profile(space).data,
        metadata=None,
    )
    return path
