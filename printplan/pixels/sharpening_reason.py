"""What has the picture's content to do with its sharpening?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.sharpness.choice import DecidingBound
from printplan.sharpness.content import MOST_SHARE, SEEN_GRAIN_L
from printplan.sharpness.halo import PIXEL_SIGMA_PX

if TYPE_CHECKING:
    from printplan.sharpness.choice import SharpenChoice
    from printplan.sharpness.content import ContentFacts
    from printplan.spec import SharpenSpec


_SAME_RESTORE = 0.01


def content_reason(  # noqa: PLR0913 - picture, choice and what was reckoned with
    content: ContentFacts,
    choice: SharpenChoice,
    spec: SharpenSpec,
    *,
    softness_px: float,
    tones_l: tuple[float, float],
    used_share: float,
) -> str:
    """
    Say what the picture's content has to do with the sharpening chosen.

    Parameters
    ----------
    content : ContentFacts
    choice : SharpenChoice
    spec : SharpenSpec
        As it was chosen.
    softness_px : float
        Of the master's edges in print pixels, as it was reckoned with.
    tones_l : tuple of float
        L* of the two sides of the strongest edge, as it was reckoned with.
    used_share : float
        Share of the sharpening that is left after what the master already has.

    Returns
    -------
    str
        One sentence; an assumed softness and a master that was sharpened before are
        named in it.
    """
    parts = [_kind(content), _edges(content, softness_px), _noise(content, choice)]
    if content.grain_l >= SEEN_GRAIN_L and spec.grain_floor_l > 0:
        parts.append(
            f"its grain of {content.grain_l:.1f} L* is spared by a grain floor of "
            f"{spec.grain_floor_l:.1f} L*"
        )
    if spec.halo_limit_share is not None:
        dark_l, light_l = tones_l
        parts.append(
            f"an edge from L* {dark_l:.0f} to {light_l:.0f} is held to a halo of "
            f"{choice.overshoot_in_print:.0%} in the print"
        )
    if used_share < 1:
        parts.append(
            f"it was sharpened before (overshoot {content.overshoot_share:.0%}), so "
            f"{used_share:.0%} of the sharpening is used"
        )
    return f"{'; '.join(parts)}."


def restore_words(restore: float, choice: SharpenChoice) -> str:
    """
    Say which restore was asked for, and which one is really had.

    Parameters
    ----------
    restore : float
        As it was asked for.
    choice : SharpenChoice

    Returns
    -------
    str
        One sentence.
    """
    if choice.deciding_bound is DecidingBound.NOTHING_LOST:
        return f"Asked to restore {restore:g} of what paper and distance take."
    if abs(choice.restored - restore) < _SAME_RESTORE:
        return f"Chosen to restore {restore:g} of what paper and distance take."
    return (
        f"Asked to restore {restore:g} of what paper and distance take; limits leave "
        f"{choice.restored:.2f} of it."
    )


def _kind(content: ContentFacts) -> str:
    if content.smooth_share >= MOST_SHARE:
        return (
            f"Mostly smooth tones ({content.smooth_share:.0%} of the area), where "
            "noise shows sooner than missing sharpness"
        )
    if content.texture_share >= MOST_SHARE:
        return (
            f"Fine texture nearly everywhere ({content.texture_share:.0%} of the "
            "area), which is what sharpening brings back"
        )
    return (
        f"Smooth areas ({content.smooth_share:.0%}) beside texture "
        f"({content.texture_share:.0%}), so sharpness shows at edges and noise between"
    )


def _edges(content: ContentFacts, softness_px: float) -> str:
    if content.master_softness_px is None:
        return (
            "too few strong straight edges to measure, so a softness of "
            f"{softness_px:.2f} print pixels is assumed"
        )
    if softness_px < PIXEL_SIGMA_PX:
        return "its sharpest edges are as sharp as print pixels hold"
    return f"its sharpest edges are {softness_px:.2f} print pixels soft"


def _noise(content: ContentFacts, choice: SharpenChoice) -> str:
    noise = f"its noise of {content.noise_l:.2f} L*"
    if choice.noise_counted_l > content.noise_l:
        noise += f", counted as {choice.noise_counted_l:.2f},"
    seen = (
        f"will be seen at {choice.visible_noise_after:.1f} times the eye's threshold"
        if choice.visible_noise_after > 1
        else "stays below the eye's threshold"
    )
    held = " and held the gain" if choice.deciding_bound is DecidingBound.NOISE else ""
    return f"{noise} {seen}{held}"
