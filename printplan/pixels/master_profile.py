"""With which profile is a master read?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from printplan.colour.profiles import open_profile, profile_from_bytes
from printplan.colour.spaces import grey_profile, named_profile
from printplan.errors import ProfileError
from printplan.spec import NamedSpace

if TYPE_CHECKING:
    from printplan.colour.profiles import Profile
    from printplan.pixels.master_file import Stored

_SOURCE_CLASSES = {"mntr", "scnr", "spac", "prtr"}
"""ICC.1:2022, 7.2.5: classes that say what device values look like."""

_CHANNELS = {"GRAY": 1, "RGB": 3}
_SPACES = ", ".join(NamedSpace)


def own_profile(path: Path, stored: Stored, assume_profile: str) -> Profile:
    """
    The embedded profile, or the one named if there is none: never a guess.

    Parameters
    ----------
    path : Path
        For errors.
    stored : Stored
    assume_profile : str
        A `NamedSpace` value, the path of a profile, or empty. A grey file is read
        with the tone curve of the space.

    Returns
    -------
    Profile

    Raises
    ------
    ProfileError
        If there is none, or two, or it cannot say what the file's colours are.
    """
    if stored.profile_data:
        if assume_profile:
            raise ProfileError(
                f"{path} carries its own profile, and {assume_profile!r} is named "
                "for it.",
                remedy="Leave assume_profile empty; the embedded profile is used. If "
                "it is the wrong one, export the master again with the right one.",
            )
        profile = profile_from_bytes(stored.profile_data, where=str(path))
    elif assume_profile:
        profile = _named(assume_profile, stored.channels)
    else:
        hint = (
            'It says that it is sRGB: if so, set assume_profile to "sRGB". '
            if stored.says_srgb
            else f"If you know its space, set assume_profile to it ({_SPACES}, or the "
            "path of a profile). "
        )
        if stored.channels == 1:
            hint += "For this grey file its tone curve is used. "
        raise ProfileError(
            f"{path} carries no colour profile.",
            remedy=f"{hint}Better, export it again with its profile embedded.",
        )
    if profile.device_class not in _SOURCE_CLASSES:
        raise ProfileError(
            f"The profile {profile.name!r} of {path} is of class "
            f"{profile.device_class!r}; it does not say what colours are.",
            remedy="Export the master again with the profile of its working space.",
        )
    if _CHANNELS.get(profile.space) != stored.channels:
        what = "grey" if stored.channels == 1 else "RGB"
        raise ProfileError(
            f"{path} is {what}, and its profile {profile.name!r} is for "
            f"{profile.space}.",
            remedy=f"Set assume_profile to one of {_SPACES}, or to the path of a "
            f"profile for {what}."
            if assume_profile
            else f"Export the master again with a profile for {what}, or convert "
            "it to the space of that profile first.",
        )
    return profile


def _named(assume_profile: str, channels: int) -> Profile:
    if assume_profile in set(NamedSpace):
        space = NamedSpace(assume_profile)
        return grey_profile(space) if channels == 1 else named_profile(space)
    if not Path(assume_profile).is_file():
        raise ProfileError(
            f"assume_profile is {assume_profile!r}, and there is no such file.",
            remedy=f"Set it to one of {_SPACES}, or to the path of a profile.",
        )
    return open_profile(assume_profile)
