"""Which variations of a print are tried, and what does picking one mean?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.colour.intents import distinct_choices
from printplan.errors import SpecError
from printplan.pixels.consequences import choice_of, with_intent
from printplan.sharpening.calibration import RestoreTrial
from printplan.spec import Delivery, SharpenSpec

if TYPE_CHECKING:
    from collections.abc import Sequence

    from printplan.colour.intents import Choice
    from printplan.pixels.sheet import Sheet
    from printplan.pixels.trials.targets import DrawnSquares
    from printplan.sizing.boxes import Box
    from printplan.spec import ColourSpec, PrintSpec


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialStep:
    """
    One variation.

    Attributes
    ----------
    label : str
        A few words under the patch, such as ``restore 0.75``.
    spec : PrintSpec
        The whole wish; sharpening and colour may differ from the print's.
    """

    label: str
    spec: PrintSpec


def plain_steps(sheet: Sheet) -> list[TrialStep]:
    """
    The print as it is planned: a proof of a few places.

    Returns
    -------
    list of TrialStep
        One.
    """
    return [TrialStep(label="as planned", spec=sheet.plan.spec)]


def restore_steps(
    sheet: Sheet, choices: Sequence[tuple[str, SharpenSpec]]
) -> list[TrialStep]:
    """
    Steps of sharpening, as they were chosen for the paper and the distance.

    Parameters
    ----------
    choices : sequence of (str, SharpenSpec)
        Label and sharpening of each, such as the choices for several values of
        restore, or for each of these under several halo limits.

    Raises
    ------
    SpecError
        If two of them give the same pixels.
    """
    spec = sheet.plan.spec
    seen: dict[SharpenSpec, str] = {}
    for label, sharpen in choices:
        twin = seen.setdefault(as_rendered(sharpen), label)
        if twin != label:
            raise SpecError(
                f"The steps {twin!r} and {label!r} give the same pixels: gain "
                f"{sharpen.gain:.2f}, {sharpen.blur_words}. A limit "
                "stopped both.",
                remedy=f"Leave {label!r} out, or choose both under a wider limit.",
            )
    return [
        TrialStep(label=label, spec=replace(spec, sharpen=sharpen))
        for label, sharpen in choices
    ]


def as_rendered(sharpen: SharpenSpec) -> SharpenSpec:
    """
    A sharpening without what is only kept for the record.

    Returns
    -------
    SharpenSpec
        Equal for all that give the same pixels.
    """
    if sharpen.gain == 0:
        return SharpenSpec()
    return replace(sharpen, restore=None, distance_mm=None, print_halo_limit_share=None)


def lightness_steps(sheet: Sheet, lighten_l: Sequence[float]) -> list[TrialStep]:
    """
    Steps of lightness, to be looked at in the room where the print will hang.

    Parameters
    ----------
    lighten_l : sequence of float
        Rises of the middle tones, -15 to 15 L*; 0 is the master's own tone.

    Raises
    ------
    SpecError
        If a rise is outside its range.
    """
    spec = sheet.plan.spec
    return [
        TrialStep(
            label=lightness_words(rise),
            spec=replace(spec, colour=replace(spec.colour, lighten_l=rise)),
        )
        for rise in lighten_l
    ]


def intent_steps(
    sheet: Sheet, choices: Sequence[Choice] | None = None
) -> list[TrialStep]:
    """
    The print under several rendering intents.

    Parameters
    ----------
    sheet : Sheet
        Delivered in printer colour: otherwise the intent is chosen when it prints.
    choices : sequence of Choice, optional
        By default all that differ on this paper.

    Raises
    ------
    SpecError
        If the file is not in printer colour.
    """
    spec = sheet.plan.spec
    if spec.delivery.colour is not Delivery.PRINTER_COLOUR:
        raise SpecError(
            f"The file is in {spec.delivery.colour}, and whoever prints it applies "
            "one intent to the whole sheet.",
            remedy='Choose the colour "printer colour, converted" to try intents.',
        )
    return [
        TrialStep(label=choice.words, spec=with_intent(spec, choice))
        for choice in (
            distinct_choices(sheet.output, sheet.master.profile)
            if choices is None
            else choices
        )
    ]


def lightness_words(lighten_l: float) -> str:
    """
    A change of lightness in words.

    Parameters
    ----------
    lighten_l : float
        Rise of the middle tones in L*.
    """
    if lighten_l == 0:
        return "tone of the master"
    how = "lighter" if lighten_l > 0 else "darker"
    return f"{abs(lighten_l):.3g}\u00a0L* {how}"


def sharpen_words(sharpen: SharpenSpec) -> list[str]:
    """
    A sharpening in words.

    Returns
    -------
    list of str
        One for each setting; the halo limit is the print's where that is known.
    """
    if sharpen.gain == 0:
        return ["not sharpened"]
    radius = f"radius {sharpen.radius_mm:.3g}\u00a0mm"
    blur = sharpen.blur_words if sharpen.kernel else radius
    words = [f"gain {sharpen.gain:.3g}", blur]
    if sharpen.print_halo_limit_share is not None:
        share = 100 * sharpen.print_halo_limit_share
        words.append(f"halo in the print to {share:.3g}\u00a0%")
    elif sharpen.halo_limit_share is not None:
        words.append(f"halo in the file to {100 * sharpen.halo_limit_share:.3g}\u00a0%")
    if sharpen.grain_floor_l > 0:
        words.append(f"grain floor {sharpen.grain_floor_l:.3g}\u00a0L*")
    if sharpen.restore is not None:
        words.append(f"restore {sharpen.restore:.3g}")
    if sharpen.distance_mm is not None:
        words.append(f"for {sharpen.distance_mm:.5g}\u00a0mm")
    return words


def require_one_print(sheet: Sheet, steps: Sequence[TrialStep]) -> None:
    """
    Refuse steps that differ in more than sharpening and colour.

    Raises
    ------
    SpecError
        If a step is of another size, sheet or delivery, or if steps differ in what
        is decided only when the file is printed.
    """
    own = sheet.plan.spec
    for step in steps:
        if (step.spec.size, step.spec.sheet, step.spec.delivery) != (
            own.size,
            own.sheet,
            own.delivery,
        ):
            raise SpecError(
                f"The step {step.label!r} has another size, sheet or delivery than "
                "the print.",
                remedy="Change sharpening and colour only; make another trial for "
                "another size.",
            )
    ways = {choice_of(step.spec.colour).words for step in steps}
    if len(ways) > 1 and own.delivery.colour is not Delivery.PRINTER_COLOUR:
        raise SpecError(
            f"The steps have {len(ways)} intents, and a file in "
            f"{own.delivery.colour} is printed with one.",
            remedy='Choose the colour "printer colour, converted" to try intents.',
        )


PATCH_LETTERS = "ABCDEFGJKLPRT"
"""Letters that name patches: turned upside down, none of them is another one or
itself, as H, I, N, O, S, X and Z are, and as M and W are each other."""

MOST_PLACES = 5
"""Places that can stand behind a letter: 6 and 9 turn into each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPatch:
    """
    One patch of a trial sheet.

    Attributes
    ----------
    name : str
        As it stands under the patch.
    label : str
        Of its step.
    window : Box
        What it shows, in pixels of the print's own file.
    on_page : Box
        Where it is, in pixels of the trial's file.
    """

    name: str
    label: str
    window: Box
    on_page: Box
    sharpen: SharpenSpec
    colour: ColourSpec


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialKey:
    """
    What a trial sheet holds, by the names of its patches.

    Attributes
    ----------
    squares : DrawnSquares or None
        None if the sheet has no targets.
    """

    patches: tuple[TrialPatch, ...]
    squares: DrawnSquares | None

    def patch(self, name: str) -> TrialPatch:
        """
        The patch of that name.

        Parameters
        ----------
        name : str
            In capital or small letters.

        Raises
        ------
        SpecError
            If there is none.
        """
        for patch in self.patches:
            if patch.name == name.strip().upper():
                return patch
        names = ", ".join(patch.name for patch in self.patches) or "none"
        raise SpecError(
            f"The trial has no patch {name!r}.",
            remedy=f"Pick one of its patches: {names}.",
        )

    def wish(self, spec: PrintSpec, name: str) -> PrintSpec:
        """
        A wish with the sharpening and the colour of the patch that looked best.

        Parameters
        ----------
        spec : PrintSpec
            The print's.

        Raises
        ------
        SpecError
            If there is no such patch.
        """
        patch = self.patch(name)
        return replace(spec, sharpen=patch.sharpen, colour=patch.colour)

    def restore_trial(self, name: str) -> RestoreTrial:
        """
        What the pick of a patch says about the restore wanted.

        Parameters
        ----------
        name : str
            The patch that looked best.

        Raises
        ------
        SpecError
            If there is no such patch, or the patches do not differ in restore, or the
            one picked was printed alike under another restore.
        """
        picked = self.patch(name)
        offered = [patch.sharpen.restore for patch in self.patches]
        known = tuple(value for value in offered if value is not None)
        if len(known) < len(offered) or picked.sharpen.restore is None:
            raise SpecError(
                f"{len(offered) - len(known)} of {len(offered)} patches were sharpened "
                "by hand; they have no restore.",
                remedy="Make a trial whose steps are chosen for several values of "
                "restore.",
            )
        alike = {
            f"{patch.sharpen.restore:g}"
            for patch in self.patches
            if as_rendered(patch.sharpen) == as_rendered(picked.sharpen)
        }
        if len(alike) > 1:
            raise SpecError(
                f"The patch {picked.name} is the same as those of another restore: "
                f"{' and '.join(sorted(alike))} were stopped by a limit and printed "
                "alike, so the pick says nothing between them.",
                remedy="Make a trial whose steps differ, as a ladder of restore does.",
            )
        return RestoreTrial(offered=known, picked=picked.sharpen.restore)


def patch_names(steps: int, places: int) -> list[str]:
    """
    Names of patches, place by place and in each step by step.

    Parameters
    ----------
    steps, places : int
        One or more of each.

    Returns
    -------
    list of str
        Single letters where there is one place or one step; else the letter of the
        step and the number of the place.

    Raises
    ------
    SpecError
        If there are more than can be told apart.

    Examples
    --------
    >>> patch_names(3, 1), patch_names(2, 2)
    (['A', 'B', 'C'], ['A1', 'B1', 'A2', 'B2'])
    """
    if min(steps, places) == 1:
        _require_few("patches", max(steps, places), len(PATCH_LETTERS))
        return list(PATCH_LETTERS[: max(steps, places)])
    _require_few("steps", steps, len(PATCH_LETTERS))
    _require_few("places", places, MOST_PLACES)
    return [
        f"{letter}{place}"
        for place in range(1, places + 1)
        for letter in PATCH_LETTERS[:steps]
    ]


def _require_few(what: str, count: int, most: int) -> None:
    if count > most:
        raise SpecError(
            f"The trial has {count} {what}; {most} can be told apart on one sheet.",
            remedy=f"Give {most} {what} or fewer, and the others a sheet of their own.",
        )
