"""What does an ICC profile say of itself, and how is one opened?"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from printplan.colour.icc_file import HEADER_BYTES, read_icc, read_text
from printplan.colour.profile_tags import require_computable
from printplan.errors import ProfileError
from printplan.foreign_file import named, read_foreign, read_when_changed
from printplan.spec import NamedSpace

_CHANNELS = {"GRAY": 1, "RGB": 3, "CMYK": 4}

_LONGEST_FILE = 64_000_000
"""Bytes of a profile's file. Our choice: the longest of the real ones that the tests
know has 2.6 MB, and grids as fine as can be read some 20 MB a table."""

NAMELESS = "without a name"
"""What a profile with an empty description is called."""


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
        through tone curves with a matrix. Tables of floating-point stages (``D2B0``
        and its like) are left aside, as the standard allows.
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
        If it is damaged, see `require_computable`.
    """
    return _read(bytes(data), where)


@lru_cache(maxsize=64)
def _read(data: bytes, where: str) -> Profile:
    icc = read_icc(data, where=where)
    require_computable(icc, where=where)
    described = icc.tags.get("desc")
    return Profile(
        data=data,
        name=(read_text(described).strip() if described else "") or NAMELESS,
        device_class=icc.header.device_class,
        space=icc.header.space,
        pcs=icc.header.pcs,
        version=icc.header.version,
        is_table=any(tag.startswith("A2B") for tag in icc.tags),
        sha256=hashlib.sha256(data).hexdigest(),
    )


ProfileLike = Profile | NamedSpace | str | Path | bytes
"""What `open_profile` takes, and with it every function that takes a profile."""


def open_profile(profile: ProfileLike) -> Profile:
    """
    Open an ICC profile, or name one of the colour spaces of the standards.

    Parameters
    ----------
    profile : str, Path, bytes, NamedSpace or Profile
        A file, its content, or a space: ``"srgb"``, ``"oprgb"`` or ``"romm rgb"``
        in any spelling, and ``"grey srgb"`` and its like for grey pixels with the
        tone curve of that space. An opened profile is returned as it is.

    Raises
    ------
    ProfileError
        If the file cannot be read or is damaged.

    Notes
    -----
    ICC.1:2022, version 2 or 4. The spaces are those of IEC 61966-2-1, IEC 61966-2-5
    and ISO 22028-2.

    Examples
    --------
    >>> srgb = open_profile("srgb")
    >>> srgb.name, srgb.space, srgb.is_table
    ('sRGB (IEC 61966-2-1)', 'RGB', False)
    """
    if isinstance(profile, Profile):
        return profile
    if isinstance(profile, bytes):
        return profile_from_bytes(profile, where="given as bytes")
    if isinstance(profile, str):
        # Spaces are built as profiles, so their module is above this one.
        from printplan.colour.spaces import space_profile  # noqa: PLC0415

        known = space_profile(profile)
        if known is not None:
            return known
    if not isinstance(profile, (str, Path)):
        raise ProfileError(
            f"A profile was given as {type(profile).__name__}.",
            remedy="Give its path, its bytes or the name of a space.",
        )
    try:
        data = read_foreign(
            profile, raises=ProfileError, what="The profile", most_bytes=_LONGEST_FILE
        )
    except ProfileError as error:
        if not isinstance(error.__cause__, FileNotFoundError):
            raise
        raise ProfileError(
            error.problem,
            remedy="Check the path where it is named, or name a space: sRGB, opRGB or "
            "ROMM RGB.",
        ) from error
    return profile_from_bytes(data, where=named(profile))


@read_when_changed(64)
def known_profile(profile: str) -> Profile:
    """
    The same of a path or a name, read again only when its file is another.

    Raises
    ------
    ProfileError
        As for `open_profile`.
    """
    return open_profile(profile)


@lru_cache(maxsize=64)
def engine_data(profile: Profile) -> bytes:
    """
    A profile as LittleCMS is to read it: without tables of floating-point stages.

    It would take those where they are, and files are made by the others: a proof
    would show what is not printed.
    """
    data, head = profile.data, HEADER_BYTES + 4
    rows = range(head, head + 12 * int.from_bytes(data[HEADER_BYTES:head], "big"), 12)
    hidden = [at for at in rows if data[at : at + 3] in {b"D2B", b"B2D"}]
    if not hidden:
        return data
    changed = bytearray(data)
    for at in hidden:
        changed[at] = ord("x")  # A private signature, which nobody asks for.
    return bytes(changed)
