"""What was each patch of a trial sheet, and what does picking one mean?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from printplan.errors import SpecError
from printplan.pixels.trials.steps import as_rendered
from printplan.sharpness.preference import RestoreTrial

if TYPE_CHECKING:
    from printplan.pixels.trials.squares import DrawnSquares
    from printplan.size.layout import Box
    from printplan.spec import ColourSpec, PrintSpec, SharpenSpec

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
    sharpen : SharpenSpec
    colour : ColourSpec
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
    patches : tuple of TrialPatch
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

        Returns
        -------
        TrialPatch

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
        name : str

        Returns
        -------
        PrintSpec

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

        Returns
        -------
        RestoreTrial

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
                remedy="Make a trial whose steps differ; `restore_ladder` sees to it.",
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
