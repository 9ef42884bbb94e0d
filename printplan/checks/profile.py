"""Is the profile file the right one, and does it suit master, intent and room?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from printplan.checks.finding import Finding, Level, Source, stop, warn
from printplan.colour.difference import delta_e_2000
from printplan.colour.facts import profile_facts
from printplan.colour.intents import own_intents
from printplan.colour.viewing import LightBalance, match_display, paper_reflectance
from printplan.media import DriverColour, Surface
from printplan.spec import Delivery, Intent

if TYPE_CHECKING:
    from collections.abc import Iterator

    from printplan.checks.finding import Decided
    from printplan.colour.facts import ProfileFacts
    from printplan.colour.profiles import Profile
    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan

WHITE_DELTA_E = 3.0
"""Difference of the profile's white from the measured one, in dE00, that is another
paper rather than another instrument or batch: our choice."""

DEEPEST_MATTE_L, PALEST_GLOSSY_L = 10.0, 14.0
"""Black L* below which no matte paper gets, and above which no glossy one stays: D 1.95
and 1.76. Common practice, no source, is D 1.6 to 1.75 and D 2.1 to 2.5."""

_GLOSSY = {Surface.SATIN, Surface.BARYTA, Surface.GLOSS}
_SHOWN_DIGITS = 8
_SHORTEST_WORD = 3


def profile_findings(sheet: Sheet, decided: Decided | None) -> Iterator[Finding]:
    """
    What the paper's profile and the master's own tell.

    Parameters
    ----------
    decided : Decided or None
        What the profile was when the print was decided.
    """
    if sheet.plan.delivery.colour is not Delivery.NAMED_SPACE:
        # A file for an outside service is not made through the paper's profile.
        facts = profile_facts(sheet.output)
        yield from _about_change(sheet, decided)
        yield from _about_driver(sheet.plan, sheet.output)
        yield from _about_pair(sheet.plan, facts)
        yield from _about_medium(sheet.plan, facts)
        yield from _about_intent(sheet)
    yield from _about_room(sheet)
    carried = sheet.master.source_profile
    if carried.device_class == "prtr":
        yield stop(
            topic="converted twice",
            problem=f"The master carries an output profile ({carried.name}): it "
            "is already in a printer's colour.",
            remedy="Print from the master in its working space.",
            source="ICC.1:2022, 7.2.5, class prtr",
        )


def _about_change(sheet: Sheet, decided: Decided | None) -> Iterator[Finding]:
    found, recorded = sheet.output.sha256, sheet.plan.setup.profile_sha256
    if recorded and recorded != found:
        yield stop(
            topic="profile changed",
            problem=f"The profile of {sheet.plan.paper.name} is not the one in "
            f"the paper book: its hash begins {found[:_SHOWN_DIGITS]}, not "
            f"{recorded[:_SHOWN_DIGITS]}.",
            remedy="Put the old profile back, or record the new one's hash.",
            source=Source.BOOK,
        )
    if decided is not None and decided.profile_sha256 != found:
        yield warn(
            topic="profile since decision",
            problem="The paper's profile is not the one that was decided on: its hash "
            f"begins {found[:_SHOWN_DIGITS]}, not "
            f"{decided.profile_sha256[:_SHOWN_DIGITS]}.",
            remedy="Look at the soft proof again, or put the old profile back.",
            source="SHA-256 of the file",
        )


def _about_driver(plan: PrintPlan, profile: Profile) -> Iterator[Finding]:
    """Device colours that the profile is for, against those that the driver takes."""
    takes = plan.printer.driver_colour
    if profile.space in set(DriverColour) - {takes}:
        yield stop(
            topic="profile's device colour",
            problem=f"The profile of {plan.paper.name} ({profile.name}) is for "
            f"{profile.space}, and the driver of {plan.printer.name} takes {takes}.",
            remedy=f"Name a profile that was made through this driver, for {takes}; or "
            f"correct in the paper book what the printer's driver takes, if that is "
            f"{profile.space}.",
            source="ICC.1:2022, 7.2.6, data colour space",
        )


def _about_pair(plan: PrintPlan, facts: ProfileFacts) -> Iterator[Finding]:
    """What the profile says of itself, against ink and paper."""
    said = " ".join([facts.name, *(text for _, text in facts.texts)]).casefold()
    black_ink = plan.setup.black_ink
    for ink in plan.printer.black_inks:
        if ink.casefold() in said and black_ink.casefold() not in said:
            yield stop(
                topic="profile's black ink",
                problem=f'The profile "{facts.name}" says that it was made with {ink}; '
                f"{plan.paper.name} is set up with {black_ink}.",
                remedy="Name the profile made for this black ink, or correct the black "
                "ink in the paper book.",
                source="ICC.1:2022, 9.2, the profile's own texts",
            )
    if not any(word in said for word in _words_of(plan.paper.name)):
        sure = bool(plan.setup.profile_sha256)
        yield Finding(
            level=Level.NOTE if sure else Level.WARN,
            topic="profile's name",
            problem=f'The profile calls itself "{facts.name}", which names no word of '
            f'"{plan.paper.name}".',
            remedy="Make sure that it was made for this paper"
            + ("." if sure else ", and write its hash into the paper book."),
            source=Source.OUR_CHOICE,
        )


def _words_of(name: str) -> list[str]:
    """Words of a name that are long enough to be told; all of it if none are."""
    words = name.casefold().split()
    return [word for word in words if len(word) >= _SHORTEST_WORD] or [name.casefold()]


def _about_medium(plan: PrintPlan, facts: ProfileFacts) -> Iterator[Finding]:
    """What the profile measured, against what the paper is."""
    paper = plan.paper
    if paper.white_lab is not None:
        white, measured = np.array([facts.white_lab]), np.array([paper.white_lab])
        apart = float(delta_e_2000(white, measured)[0])
        if apart > WHITE_DELTA_E:
            shown = ", ".join(f"{value:z.1f}" for value in facts.white_lab)
            yield warn(
                topic="profile's white",
                problem=f"The profile's white (L*a*b* {shown}) is {apart:.1f} dE00 "
                f"from the measured white of {paper.name}; the limit is "
                f"{WHITE_DELTA_E:g}.",
                remedy="Name the profile made for this paper, or measure the paper's "
                "white again.",
                source=Source.OUR_CHOICE,
            )
    black_l = facts.black_lab[0]
    too_deep = paper.surface is Surface.MATTE and black_l < DEEPEST_MATTE_L
    if too_deep or (paper.surface in _GLOSSY and black_l > PALEST_GLOSSY_L):
        limit_l = DEEPEST_MATTE_L if too_deep else PALEST_GLOSSY_L
        yield warn(
            topic="profile's black",
            problem=f"The profile's black is L* {black_l:.1f}, "
            f"{'deeper' if too_deep else 'paler'} than {limit_l:g}, which "
            f"{'no matte paper reaches' if too_deep else 'a glossy paper passes'}; "
            f"{paper.name} is {paper.surface}.",
            remedy="Name the profile made for this paper and its black ink, or correct "
            "the surface in the paper book.",
            source=Source.COMMON_PRACTICE,
        )


def _about_intent(sheet: Sheet) -> Iterator[Finding]:
    wanted = sheet.plan.spec.colour.intent
    own = own_intents(sheet.output)
    if wanted not in own:
        offered = ", ".join(f'"{it}"' for it in Intent if it in own)
        yield warn(
            topic="no table for intent",
            problem=f'The profile "{sheet.output.name}" has no table for the '
            f"{wanted} intent; another one takes its place.",
            remedy=f"Choose one that it has: {offered}.",
            source="ICC.1:2022, 8.4 and 9.2, tags B2A0 to B2A2",
        )


def _about_room(sheet: Sheet) -> Iterator[Finding]:
    room = sheet.plan.spec.room
    if room.illuminance_lx is None or room.display_cd_m2 is None:
        return
    match = match_display(
        room.illuminance_lx, paper_reflectance(sheet.output), room.display_cd_m2
    )
    if match.balance is LightBalance.MATCHED:
        return
    darker = match.balance is LightBalance.PAPER_DARKER
    is_lightened = sheet.plan.spec.colour.lighten_l > 0
    yield Finding(
        level=Level.WARN if darker and not is_lightened else Level.NOTE,
        topic="display and room",
        problem=match.verdict,
        remedy=match.advice,
        source="luminance of a matte white, E·ρ/π; a third of a stop is "
        f"{Source.OUR_CHOICE}",
    )
