"""What can a profile do, and how light are its white and black?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.icc_file import carried_id, profile_id, read_icc, read_text
from printplan.colour.intents import own_intents
from printplan.colour.profiles import open_profile
from printplan.colour.tone import lightness_to_density
from printplan.colour.transforms import device_to_lab
from printplan.errors import ProfileError
from printplan.spec import Intent

if TYPE_CHECKING:
    from printplan.colour.profiles import ProfileLike

# ICC.1:2022, 9.2: text about the device and the data, and the characterization text.
_MEDIA_TEXTS = ("dmdd", "dmnd", "targ", "cprt")
_TARGET_CHARACTERS = 300

CLASS_WORDS = {
    "mntr": "display",
    "scnr": "input",
    "prtr": "output",
    "spac": "colour space",
    "link": "device link",
    "abst": "abstract",
    "nmcl": "named colour",
}
"""Device classes in words (ICC.1:2022, 7.2.5)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileFacts:
    """
    What a profile says of itself, and the ends of its tone scale.

    Attributes
    ----------
    device_class : str
        In words, see `CLASS_WORDS`.
    space, pcs : str
        Device and connection space.
    intents : tuple of Intent
        Those it has a table of its own for, to the device; ICC-absolute is computed
        from media-relative.
    white_lab, black_lab : tuple of float
        Bare medium and darkest colour, ICC-absolute CIELAB under D50. Black is the
        darkest of the device's corners.
    white_density, black_density : float
        Reflection density against a perfect white; black without light is infinite.
    is_as_made : bool or None
        Whether the profile has the ID that it carries, so that no byte was changed
        since; None without an ID.
    texts : tuple of tuple of str
        Tag and text of what it says about device, medium and rights.
    """

    name: str
    device_class: str
    space: str
    pcs: str
    version: str
    is_table: bool
    intents: tuple[Intent, ...]
    white_lab: tuple[float, float, float]
    black_lab: tuple[float, float, float]
    white_density: float
    black_density: float
    is_as_made: bool | None
    texts: tuple[tuple[str, str], ...]
    sha256: str


def profile_facts(profile: ProfileLike) -> ProfileFacts:
    """
    Read what a profile can do.

    Parameters
    ----------
    profile : Profile, path, bytes or name of a space
        For grey, RGB or CMYK.

    Raises
    ------
    ProfileError
        If it is for another space, or cannot be read from the device.

    Notes
    -----
    Header and tags as ICC.1:2022, clauses 7 and 9, has them; density is ``-log10 Y``
    (ISO 5-3) of white and black read ICC-absolute.

    Examples
    --------
    >>> facts = profile_facts("oprgb")
    >>> facts.device_class, [str(intent) for intent in facts.intents]
    ('display', ['media-relative', 'icc-absolute'])
    """
    profile = open_profile(profile)
    corners = np.stack(
        np.meshgrid(*[np.array([0, 65535], np.uint16)] * profile.channels), axis=-1
    ).reshape(1, -1, profile.channels)
    lab = device_to_lab(corners, profile, intent=Intent.ICC_ABSOLUTE)[0]
    white, black = lab[lab[:, 0].argmax()], lab[lab[:, 0].argmin()]
    tags = read_icc(profile.data, where=profile.name).tags
    own = own_intents(profile)
    return ProfileFacts(
        name=profile.name,
        device_class=CLASS_WORDS.get(profile.device_class, profile.device_class),
        space=profile.space,
        pcs=profile.pcs,
        version=f"{profile.version[0]}.{profile.version[1]}",
        is_table=profile.is_table,
        intents=tuple(intent for intent in Intent if intent in own),
        white_lab=_triple(white),
        black_lab=_triple(black),
        white_density=_density(white[0]),
        black_density=_density(black[0]),
        is_as_made=_is_as_made(profile.data),
        texts=tuple(
            (tag, text) for tag in _MEDIA_TEXTS if (text := _text(tags.get(tag)))
        ),
        sha256=profile.sha256,
    )


def _is_as_made(data: bytes) -> bool | None:
    carried = carried_id(data)
    return profile_id(data) == carried if any(carried) else None


def _triple(
    lab: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
) -> tuple[float, float, float]:
    l_star, a_star, b_star = lab.tolist()
    return l_star, a_star, b_star


def _density(lightness: float) -> float:
    # A working space's white is computed a hair above 100, its black a hair above 0.
    if lightness <= 1e-3:
        return float("inf")
    return lightness_to_density(min(float(lightness), 100.0))


def _text(element: bytes | None) -> str:
    """Text of a tag, shortened; empty where it is missing or of another kind."""
    if element is None:
        return ""
    try:
        text = " ".join(read_text(element).split())
    except ProfileError:
        return ""
    if len(text) > _TARGET_CHARACTERS:
        return text[:_TARGET_CHARACTERS] + "…"
    return text
