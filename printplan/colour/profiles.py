"""What does an ICC profile say of itself?"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from printplan.colour.icc_file import read_icc, read_text
from printplan.errors import ProfileError

_CHANNELS = {"GRAY": 1, "RGB": 3, "CMYK": 4}


@dataclass(frozen=True, slots=True)
class Profile:
    """
    An ICC profile and the few facts that decide how it can be used.

    Attributes
    ----------
    data : bytes
        The profile itself.
    name : str
        Its description tag.
    device_class : str
        Class signature without padding: ``mntr``, ``scnr``, ``spac``, ``prtr``,
        ``link``, ``abst`` or ``nmcl`` (ICC.1:2022, 7.2.5).
    space : str
        Data colour space signature: ``RGB``, ``GRAY``, ``CMYK`` and others.
    pcs : str
        ``XYZ`` or ``Lab``.
    version : tuple of int
        Major and minor.
    is_table : bool
        Whether colours are read through tables (``A2B0`` and its like) and not
        through tone curves with a matrix.
    sha256 : str
        Hexadecimal hash of `data`.
    """

    data: bytes
    name: str
    device_class: str
    space: str
    pcs: str
    version: tuple[int, int]
    is_table: bool
    sha256: str

    @property
    def channels(self) -> int:
        """
        Number of device channels.

        Raises
        ------
        ProfileError
            If the space is none of grey, RGB and CMYK.
        """
        try:
            return _CHANNELS[self.space]
        except KeyError:
            raise ProfileError(
                f"The profile {self.name!r} is for the space {self.space}.",
                remedy="Use a profile for grey, RGB or CMYK.",
            ) from None


def profile_from_bytes(data: bytes, *, where: str) -> Profile:
    """
    Read a profile.

    Parameters
    ----------
    data : bytes
        An ICC profile, version 2 or 4.
    where : str
        What carried it, for the error.

    Raises
    ------
    ProfileError
        If it is damaged.
    """
    return _read(bytes(data), where)


@lru_cache(maxsize=64)
def _read(data: bytes, where: str) -> Profile:
    icc = read_icc(data, where=where)
    described = icc.tags.get("desc")
    return Profile(
        data=data,
        name=(read_text(described).strip() if described else "") or "without a name",
        device_class=icc.header.device_class,
        space=icc.header.space,
        pcs=icc.header.pcs,
        version=icc.header.version,
        is_table=any(tag.startswith(("A2B", "D2B")) for tag in icc.tags),
        sha256=hashlib.sha256(data).hexdigest(),
    )


def open_profile(path: str | Path) -> Profile:
    """
    Read a profile from its file.

    Raises
    ------
    ProfileError
        If the file cannot be read or is damaged.
    """
    path = Path(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ProfileError(
            f"The profile {path} cannot be read ({error.strerror}).",
            remedy="Check the path where it is named: paper book or plan.",
        ) from error
    return profile_from_bytes(data, where=str(path))


def require_output_profile(profile: Profile) -> Profile:
    """
    The profile itself, if a print can be converted to it.

    Raises
    ------
    ProfileError
        If it is not an output profile (class ``prtr``) for grey, RGB or CMYK.
    """
    if profile.device_class != "prtr":
        raise ProfileError(
            f"The profile {profile.name!r} is of class {profile.device_class!r}; a "
            "paper needs an output profile ('prtr').",
            remedy="Name the profile made for this paper on this printer.",
        )
    _ = profile.channels
    return profile
