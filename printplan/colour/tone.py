"""Which tones separate on this paper, and how neutral are its greys?"""

from __future__ import annotations

from dataclasses import dataclass
from math import log10
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.difference import delta_e_2000
from printplan.colour.icc_file import D50_XYZ
from printplan.colour.profile_gate import require_output_profile
from printplan.colour.profiles import open_profile
from printplan.colour.proof import rendered_device
from printplan.colour.spaces import lab_from_xyz, xyz_from_lab
from printplan.colour.transforms import device_to_lab, lab_to_device
from printplan.errors import SpecError
from printplan.spec import BlackPointCompensation, Intent

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from printplan.colour.profiles import ProfileLike

    Floats = NDArray[np.float64]


def density_to_lightness(density: float) -> float:
    """
    CIE lightness of a neutral of given reflection density.

    Parameters
    ----------
    density : float
        ``-log10`` of the reflectance, 0 or more, against the same white as L*.

    Returns
    -------
    float
        L*, 0 to 100.

    Raises
    ------
    SpecError
        If the density is below 0.

    References
    ----------
    .. [1] ISO 5-3:2009 for density, ISO/CIE 11664-4:2019 for lightness.

    Examples
    --------
    >>> round(density_to_lightness(2.0), 3)
    8.991
    """
    if not density >= 0:
        raise SpecError(
            f"Density is {density:g}.",
            remedy="Give 0 or more; a gloss paper's black is near 2.3.",
        )
    white = np.array(D50_XYZ)
    return float(lab_from_xyz(white * 10.0**-density)[0])


def lightness_to_density(lightness: float) -> float:
    """
    Reflection density of a neutral of given CIE lightness.

    Parameters
    ----------
    lightness : float
        L*, above 0 and up to 100.

    Returns
    -------
    float
        Against the same white as L*.

    Raises
    ------
    SpecError
        If the lightness is outside its range: that of L* = 0 has no end.

    Examples
    --------
    >>> round(lightness_to_density(17.972), 3)
    1.6
    """
    if not 0 < lightness <= 100:
        raise SpecError(
            f"Lightness is {lightness:g}.", remedy="Give L* above 0 and up to 100."
        )
    return -log10(float(xyz_from_lab(np.array([lightness, 0.0, 0.0]))[1]))


LEAST_STEP_L = 0.5
"""Step of printed L* that counts as separate: our choice. Under ISO 3664 P2 light, such
a step is at least twice the contrast that the eye just finds, at any lightness (tested
with `viewing.distinct_shadow_steps`); in dimmer rooms ask that function."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneStep:
    """
    One grey of a wedge, as it was asked and as it prints.

    Attributes
    ----------
    source_l : float
        L* of the neutral in the source, media-relative.
    device : tuple of int
        What the printer is sent, 0 to 65535; CMYK counts ink.
    relative_l, relative_a, relative_b : float
        CIELAB against the paper's white, as an eye adapted to the paper sees it.
    printed_l, printed_a, printed_b : float
        ICC-absolute CIELAB, as an instrument reads it.
    """

    source_l: float
    device: tuple[int, ...]
    relative_l: float
    relative_a: float
    relative_b: float
    printed_l: float
    printed_a: float
    printed_b: float

    @property
    def density(self) -> float:
        """
        Reflection density of the printed grey, against a perfect white.

        Raises
        ------
        SpecError
            If the step reflects nothing.
        """
        return lightness_to_density(self.printed_l)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToneWedge:
    """
    Neutral steps sent through a profile, from dark to light.

    Attributes
    ----------
    source_l : ndarray of float64, shape (steps,)
        L* of the neutrals, media-relative.
    device : ndarray of uint16, shape (steps, channels)
        What the printer is sent.
    relative_lab : ndarray of float64, shape (steps, 3)
        CIELAB against the paper's white.
    printed_lab : ndarray of float64, shape (steps, 3)
        ICC-absolute CIELAB.
    """

    source_l: Floats
    device: NDArray[np.uint16]
    relative_lab: Floats
    printed_lab: Floats

    def step(self, index: int) -> ToneStep:
        """
        One step of the wedge.

        Parameters
        ----------
        index : int
            0 is the darkest; -1 the lightest.
        """
        relative_l, relative_a, relative_b = self.relative_lab[index].tolist()
        printed_l, printed_a, printed_b = self.printed_lab[index].tolist()
        return ToneStep(
            source_l=float(self.source_l[index]),
            device=tuple(self.device[index].tolist()),
            relative_l=relative_l,
            relative_a=relative_a,
            relative_b=relative_b,
            printed_l=printed_l,
            printed_a=printed_a,
            printed_b=printed_b,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToneSteps:
    """
    Which tones of a wedge stay apart in print.

    Attributes
    ----------
    delta_l : ndarray of float64, shape (steps - 1,)
        Rise of printed L* from each step to the next; below 0 tones swap places.
    delta_e_2000 : ndarray of float64, shape (steps - 1,)
        CIEDE2000 of the same neighbours, which counts a change of cast as well.
    is_separate : ndarray of bool, shape (steps - 1,)
        Whether the rise is enough.
    first_dark : ToneStep or None
        Darkest step that is apart from the wedge's black, and all lighter ones with
        it; None if there is none.
    last_light : ToneStep or None
        Lightest step that is apart from the wedge's white, and all darker ones with
        it; None if there is none.
    """

    delta_l: Floats
    delta_e_2000: Floats
    is_separate: NDArray[np.bool_]
    first_dark: ToneStep | None
    last_light: ToneStep | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneScale:
    """
    How much of the wedge's range the print keeps.

    Attributes
    ----------
    share_kept : float
        Range of L* against the paper's white, over the range sent.
    darkest, lightest : ToneStep
        Ends of the printed wedge by L*.
    density_range : float
        Density of the darkest step less that of the lightest.
    """

    share_kept: float
    darkest: ToneStep
    lightest: ToneStep
    density_range: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Neutrality:
    """
    Cast of the printed greys, against the paper's white.

    Attributes
    ----------
    drift_a, drift_b : ndarray of float64, shape (steps,)
        a* and b* along the wedge; 0 has the hue of the paper.
    chroma : ndarray of float64, shape (steps,)
        C*ab, their distance from 0.
    strongest : ToneStep
        Where the largest is.
    """

    drift_a: Floats
    drift_b: Floats
    chroma: Floats
    mean_chroma: float
    max_chroma: float
    strongest: ToneStep


def print_wedge(
    source: ProfileLike,
    paper: ProfileLike,
    *,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
    black_point_compensation: BlackPointCompensation | str = BlackPointCompensation.ON,
    source_l: ArrayLike | None = None,
) -> ToneWedge:
    """
    Send neutral steps of a source space through a paper's profile.

    Parameters
    ----------
    source : Profile, path, bytes or name of a space
        Space of the master, such as ROMM RGB.
    paper : Profile, path or bytes
        Output profile of the paper on its printer.
    intent, black_point_compensation
        As for `convert`.
    source_l : array_like of float, shape (steps,), optional
        L* of the steps, rising, 0 to 100, two or more; without it 0, 1, … 100.

    Returns
    -------
    ToneWedge
        Its `source_l` is what the source can hold of each step in 16 bits.

    Raises
    ------
    ProfileError
        If `paper` is no output profile, or the two cannot be joined.
    SpecError
        If the steps are not such a row.

    Notes
    -----
    What the profile foretells, not a measured print: profile and printer part with
    time. Computed by the stages that whole pictures go through, and read back by the
    profile's own tables.

    Examples
    --------
    A wedge feeds the count of shadow steps in a room::

        wedge = print_wedge("romm rgb", "paper.icc", source_l=np.arange(21.0))
        distinct_shadow_steps(wedge.printed_lab[:, 0], illuminance_lx=50)
    """
    return rendered_wedge(
        require_output_profile(open_profile(paper)),
        intent=intent,
        black_point_compensation=black_point_compensation,
        source=source,
        source_l=source_l,
    )


def rendered_wedge(  # noqa: PLR0913 - a rendering, and what is sent through it
    target: ProfileLike,
    *,
    intent: Intent | str = Intent.MEDIA_RELATIVE,
    black_point_compensation: BlackPointCompensation | str = BlackPointCompensation.ON,
    source_l: ArrayLike | None = None,
    source: ProfileLike | None = None,
    lighten_l: float = 0.0,
) -> ToneWedge:
    """
    Neutral steps as any profile renders them, as in `print_wedge`.

    Parameters
    ----------
    target : Profile, path, bytes or name of a space
        A paper's, or a space that a file is delivered in.
    intent, black_point_compensation, source_l
        As for `print_wedge`.
    source : Profile, path, bytes or name of a space, optional
        Of the master; without it a working space whose black is L* 0.
    lighten_l : float, optional
        Rise of the middle tones before the conversion, as a `ColourSpec` has it.

    Raises
    ------
    ProfileError
        If the two cannot be joined.
    SpecError
        If the steps are no rising row.

    Examples
    --------
    >>> wedge = rendered_wedge("sRGB", source_l=[0, 25, 50, 75, 100])
    >>> wedge.printed_lab[:, 0].round(1).tolist()  # sRGB holds all neutrals
    [0.0, 25.0, 50.0, 75.0, 100.0]
    """
    neutral = [1.0, 0.0, 0.0]
    target, source = open_profile(target), source and open_profile(source)
    source_l = np.arange(101.0) if source_l is None else _rising_l(source_l)
    held = source_l[:, None] * neutral
    if source is not None:
        codes = lab_to_device(held[None], source, intent=Intent.MEDIA_RELATIVE)
        held = device_to_lab(codes, source, intent=Intent.MEDIA_RELATIVE)[0]
    # The parabola of `pixels.lightness.lighten`.
    share = held[:, :1] / 100
    lightened = held + 4 * lighten_l * share * (1 - share) * neutral
    device = rendered_device(
        lightened, target, intent, black_point_compensation, source=source
    )
    relative, printed = (
        device_to_lab(device[None], target, intent=way)[0]
        for way in (Intent.MEDIA_RELATIVE, Intent.ICC_ABSOLUTE)
    )
    return ToneWedge(
        source_l=held[:, 0], device=device, relative_lab=relative, printed_lab=printed
    )


def tone_steps(wedge: ToneWedge, *, least_step_l: float = LEAST_STEP_L) -> ToneSteps:
    """
    Find the tones of a wedge that stay apart in print.

    Parameters
    ----------
    wedge : ToneWedge
        From `print_wedge`.
    least_step_l : float, optional
        Rise of printed L* that counts as separate, above 0. Compare it with the
        step of the wedge: no paper gives more than it is sent by much.

    Raises
    ------
    SpecError
        If the least step is 0 or less.

    Notes
    -----
    Judged by L*, because tone is lightness: in CIEDE2000 a cast that wanders would
    pass for separation, and its weight halves steps near black.

    Examples
    --------
    A print whose black is L* 10 under steps of 5, all darker ones clipped to it:

    >>> source_l, device = np.arange(0.0, 101, 5), np.zeros((21, 3), np.uint16)
    >>> lab = np.maximum(source_l, 10)[:, None] * [1, 0, 0]  # no ink is darker than 10
    >>> wedge = ToneWedge(
    ...     source_l=source_l, device=device, relative_lab=lab, printed_lab=lab
    ... )
    >>> tone_steps(wedge).is_separate[:4].tolist()
    [False, False, True, True]
    """
    if not 0 < least_step_l <= 100:
        raise SpecError(
            f"The least step is {least_step_l:g} L*.",
            remedy=f"Give a step above 0 and up to 100, such as {LEAST_STEP_L:g}.",
        )
    printed_l = wedge.printed_lab[:, 0]
    # From the first True on, every step is apart; the wedge's own end never is.
    apart_from_black = printed_l - printed_l[0] >= least_step_l
    apart_from_white = printed_l[-1] - printed_l >= least_step_l
    first = _length_of_end(apart_from_black[::-1])
    last = _length_of_end(apart_from_white)
    delta_l = np.diff(printed_l)
    delta_e = delta_e_2000(wedge.printed_lab[:-1], wedge.printed_lab[1:])
    return ToneSteps(
        delta_l=delta_l,
        delta_e_2000=delta_e.astype(np.float64, copy=False),
        is_separate=delta_l >= least_step_l,
        first_dark=wedge.step(-first) if first else None,
        last_light=wedge.step(last - 1) if last else None,
    )


def tone_scale(wedge: ToneWedge) -> ToneScale:
    """
    Measure how much of the wedge's range the print keeps.

    Raises
    ------
    SpecError
        If a step reflects nothing, which has no density.
    """
    relative_l = wedge.relative_lab[:, 0]
    darkest = wedge.step(int(relative_l.argmin()))
    lightest = wedge.step(int(relative_l.argmax()))
    kept_l = lightest.relative_l - darkest.relative_l
    return ToneScale(
        share_kept=kept_l / float(wedge.source_l[-1] - wedge.source_l[0]),
        darkest=darkest,
        lightest=lightest,
        density_range=darkest.density - lightest.density,
    )


def neutrality(wedge: ToneWedge) -> Neutrality:
    """
    Follow the cast of the printed greys along a wedge.

    Notes
    -----
    Against the paper's white, because an eye adapted to the paper takes its tint for
    neutral. With the ICC-absolute intent the greys are neutral against D50 instead,
    and the drift shows the paper's tint turned round.
    """
    drift_a, drift_b = wedge.relative_lab[:, 1], wedge.relative_lab[:, 2]
    chroma = np.hypot(drift_a, drift_b)
    strongest = int(chroma.argmax())
    return Neutrality(
        drift_a=drift_a,
        drift_b=drift_b,
        chroma=chroma,
        mean_chroma=float(chroma.mean()),
        max_chroma=float(chroma[strongest]),
        strongest=wedge.step(strongest),
    )


def _length_of_end(flags: NDArray[np.bool_]) -> int:
    """How many flags are set from the start of a row, before the first that is not."""
    return int(np.logical_and.accumulate(flags).sum())


def _rising_l(source_l: ArrayLike) -> Floats:
    """Refuse what is no rising row of L*."""
    steps_l = np.asarray(source_l, np.float64)
    in_range = ((steps_l >= 0) & (steps_l <= 100)).all()
    if steps_l.ndim != 1 or steps_l.size < 2 or not in_range:
        raise SpecError(
            f"The wedge of shape {steps_l.shape} is no row of two steps or more from "
            "L* 0 to 100.",
            remedy="Give rising L*, such as 0, 1, 2 … 20 for the shadows.",
        )
    if not (np.diff(steps_l) > 0).all():
        raise SpecError(
            "The steps of the wedge do not rise.",
            remedy="Give each L* once, from dark to light.",
        )
    return steps_l
