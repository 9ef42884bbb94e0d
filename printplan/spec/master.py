"""Which master is printed, and what is it?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class AlphaRule(StrEnum):
    """What to do with a master that carries transparency."""

    REFUSE = "refuse"
    FLATTEN = "flatten"


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterSpec:
    """
    Which master, and what the photographer allows about it.

    Attributes
    ----------
    file : str
        Path of the master.
    assume_profile : str
        A named space, or the path of a profile, for a master that carries none;
        empty refuses such a master.
    alpha : AlphaRule
        Whether transparency may be flattened on white.
    """

    file: str
    assume_profile: str = ""
    alpha: AlphaRule = AlphaRule.REFUSE


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterFacts:
    """
    What the master is.

    Attributes
    ----------
    path : str
        Where it was read.
    sha256 : str
        Hash of the whole file, hexadecimal.
    file_format : str
        ``TIFF``, ``PNG`` or ``JPEG``.
    width_px, height_px : int
        As the picture is looked at, after the orientation flag.
    channels : int
        1 for grey, 3 for RGB.
    bits : int
        8, 16 or 32 per channel as stored.
    is_float : bool
        Whether the stored numbers are floating point.
    orientation_flag : int
        TIFF/EXIF Orientation found, 1 to 8; 1 if none.
    profile_name : str
        Description of the profile that the pixels are read with.
    profile_is_assumed : bool
        The file carried no profile and the user named one.
    profile_is_table : bool
        The profile holds tables, so the pixels were converted once to linear
        ROMM RGB.
    clipped_share : float
        Share of stored float values outside 0 to 1, which were clipped.
    page_count : int
        Pages in the file; the first is used.
    creator, copyright_notice : str
        Carried over to the finished file; empty if none.
    has_location : bool
        Whether the file says where it was taken; never carried over.
    """

    path: str
    sha256: str
    file_format: str
    width_px: int
    height_px: int
    channels: int
    bits: int
    is_float: bool
    orientation_flag: int
    profile_name: str
    profile_sha256: str
    profile_is_assumed: bool
    profile_is_table: bool
    alpha_was_flattened: bool
    clipped_share: float
    page_count: int
    creator: str
    copyright_notice: str
    has_location: bool
