"""Do a profile's tags hold what they claim, in numbers to compute with?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.icc_file import damaged_profile, read_numbers
from printplan.colour.icc_tables import curve_values, read_lut

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from printplan.colour.icc_file import IccFile

    Floats = NDArray[np.float64]

# Limits of this module are our choice, and generous: what lies beyond them is damage,
# not quality. All real profiles that the tests know keep far inside.

_TABLES = {
    f"{way}{intent}": types
    for way, types in (
        ("A2B", (b"mft1", b"mft2", b"mAB ")),
        ("B2A", (b"mft1", b"mft2", b"mBA ")),
    )
    for intent in range(3)
}
"""Types that a table may be of: ICC.1:2022, 9.2.1 to 9.2.3 and 9.2.6 to 9.2.8."""

_CURVES = ("rTRC", "gTRC", "bTRC", "kTRC")
_COLORANTS = ("rXYZ", "gXYZ", "bXYZ")

_STEPS = 257
_MOST_FALL = 0.02
"""Share of its range by which a tone curve may fall back: noise of a measured one."""
_MOST_JUMP = 0.7
"""Share of its range that a tone curve may rise within two codes of 8 bits; a power of
0.1 rises by 0.62. What is steeper is a threshold."""
_LEAST_RANGE = 0.05
_OUTERMOST = 4.0

_MOST_CONDITION = 200.0
"""Of the colorants as a matrix. sRGB has 4, the widest of the named spaces 2; from
some hundreds on, a code of 8 bits is amplified to all there are."""

_WHITE_XYZ = (0.05, 2.0)
_ROTATION_NUMBERS = 9


def require_computable(icc: IccFile, *, where: str) -> None:
    """
    Refuse a profile whose tags are shorter than they say, or hold no sound numbers.

    Parameters
    ----------
    where : str
        What carried it, for the error.

    Raises
    ------
    ProfileError
        If a table is of a type that has no place there, claims more numbers than its
        bytes hold or than any sound one has, or has a curve that is not finite; if a
        tone curve is not finite, falls, is level or is a threshold; if the colorants
        cannot be inverted; if the medium's white is no light at all.

    Notes
    -----
    Nothing is made of a table before its length is known. Curves within a table may
    fall, since the grid can turn them: nothing in ICC.1:2022, 10.10 to 10.13, says
    otherwise, and those of the ink are known to. A tone curve of its own (9.2: kTRC,
    redTRC and its like) takes device values to light, 0 being black (our reading of
    8.3 and 8.4, from memory), so that it rises.

    Only tags that we or LittleCMS compute with are looked at.
    """
    if icc.header.device_class != "link" and icc.header.pcs not in {"XYZ", "Lab"}:
        raise damaged_profile(
            where, f"its colours are told in {icc.header.pcs!r}, not in XYZ or CIELAB"
        )
    for tag, types in _TABLES.items():
        if tag in icc.tags:
            _require_table(tag, icc.tags[tag], types, where)
    for tag in _CURVES:
        if tag in icc.tags:
            _require_tone_curve(tag, icc.tags[tag], where)
    has_table = any(tag.startswith("A2B") for tag in icc.tags)
    if not has_table and all(tag in icc.tags for tag in _COLORANTS):
        _require_invertible(icc.tags, where)
    if "wtpt" in icc.tags:
        _require_white(icc, where)
    # LittleCMS takes nine numbers of it, however many there are.
    if "chad" in icc.tags:
        _numbers(icc.tags, "chad", _ROTATION_NUMBERS, where)


def _require_table(
    tag: str, element: bytes, types: tuple[bytes, ...], where: str
) -> None:
    if element[:4] not in types:
        raise damaged_profile(
            where, f"its table {tag} is of the type {element[:4]!r}, which has no place"
        )
    read_lut(element, where=where)


def _require_tone_curve(tag: str, element: bytes, where: str) -> None:
    curve = curve_values(element, _STEPS, where=where)
    if not np.isfinite(curve).all() or np.abs(curve).max() > _OUTERMOST:
        raise damaged_profile(where, f"its tone curve {tag} has no finite values")
    extent = float(curve.max() - curve[0])
    if extent < _LEAST_RANGE:
        raise damaged_profile(where, f"its tone curve {tag} does not rise")
    fall = float((np.maximum.accumulate(curve) - curve).max()) / extent
    if fall > _MOST_FALL:
        raise damaged_profile(
            where, f"its tone curve {tag} falls, by {fall:.0%} of its range"
        )
    jump = float((curve[2:] - curve[:-2]).max()) / extent
    if jump > _MOST_JUMP:
        raise damaged_profile(
            where, f"its tone curve {tag} takes {jump:.0%} of its range in two codes"
        )


def _require_invertible(tags: Mapping[str, bytes], where: str) -> None:
    columns = [_numbers(tags, tag, 3, where)[:3] for tag in _COLORANTS]
    condition = float(np.linalg.cond(np.array(columns)))
    # Of three columns of zeros it is not a number.
    if not condition <= _MOST_CONDITION:
        raise damaged_profile(
            where,
            "its red, green and blue do not make a space (the condition number of "
            f"their matrix is {condition:.3g}; {_MOST_CONDITION:g} is the most)",
        )


def _require_white(icc: IccFile, where: str) -> None:
    white = _numbers(icc.tags, "wtpt", 3, where)[:3]
    low, high = _WHITE_XYZ
    if not all(low <= it <= high for it in white):
        told = ", ".join(f"{it:.4g}" for it in white)
        raise damaged_profile(where, f"its white is XYZ {told}")


def _numbers(
    tags: Mapping[str, bytes], tag: str, least: int, where: str
) -> tuple[float, ...]:
    numbers = read_numbers(tags[tag])
    if len(numbers) < least:
        raise damaged_profile(
            where, f"the tag {tag!r} has {len(numbers)} numbers of {least}"
        )
    return numbers
