"""The finished file, not yet computed: ask it for any box, or for all of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from printplan.colour.conversion import linear_to_codes, linear_to_device
from printplan.colour.profile_gate import paper_profile
from printplan.colour.proof import device_to_screen
from printplan.colour.spaces import named_profile
from printplan.colour.transforms import linear_of_codes, luminance_weights
from printplan.errors import ProfileError, SpecError
from printplan.loops.memory import empty
from printplan.loops.threads import in_parts
from printplan.pixels.finished_bands import finished_bands
from printplan.pixels.last_look import LastLook
from printplan.pixels.resampled_light import ResampledLight
from printplan.pixels.stages import (
    RegionCache,
    dithered_to_8_bit,
    paper_white,
    require_inside,
    require_shown,
    staged,
    stages_of,
)
from printplan.pixels.surroundings import Surroundings
from printplan.plan import resolve
from printplan.sharpening.lightness import lighten
from printplan.sizing.boxes import Box
from printplan.spec import (
    Delivery,
    FileFormat,
    Intent,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from printplan.colour.conversion_steps import Conversion
    from printplan.colour.profiles import Profile
    from printplan.pixels.master import Master
    from printplan.pixels.stages import Before
    from printplan.plan import PrintPlan
    from printplan.spec import PrintSpec

_WHITE_BAND_PIXELS = 1_000_000


class Appearance(StrEnum):
    """How the eye looks at the proof."""

    PAPER_ALONE = "paper-alone"
    """Adapted to the paper: its white is white (media-relative)."""

    PAPER_IN_THE_ROOM = "paper-in-the-room"
    """Beside a D50 white: the paper shows its own white and black (ICC-absolute)."""


APPEARANCE_INTENT = {
    Appearance.PAPER_ALONE: Intent.MEDIA_RELATIVE,
    Appearance.PAPER_IN_THE_ROOM: Intent.ICC_ABSOLUTE,
}
"""Intent from the printer's numbers to what is seen."""


@dataclass(frozen=True, slots=True)
class Overview:
    """
    The file at reduced size: for colour and place, never to judge sharpness.

    Attributes
    ----------
    pixels : ndarray of uint16, shape (rows, columns, channels)
        File values, not sharpened and not dithered.
    scale : float
        Overview pixels per file pixel.
    picture : Box
        The picture in overview pixels.
    linear : ndarray of float32, shape (channels, picture.height, picture.width)
        The picture in linear light of the master's profile; not to be changed.
    """

    pixels: NDArray[np.uint16]
    scale: float
    picture: Box
    linear: NDArray[np.float32]


class Sheet:
    """
    The stages of one plan, composed and waiting.

    Parameters
    ----------
    light : ResampledLight
        The master at print size.
    output : Profile
        The paper's profile.
    cache : RegionCache, optional
        Of the same light; the sheet makes its own otherwise.

    Attributes
    ----------
    profile : Profile
        What the file's numbers mean; the file is tagged with it.
    size_px : tuple of int
        Width and height of the file.
    """

    def __init__(
        self,
        master: Master,
        plan: PrintPlan,
        light: ResampledLight,
        output: Profile,
        cache: RegionCache | None = None,
    ) -> None:
        self.master = master
        self.plan = plan
        self.output = output
        self.light = light
        self.profile = _file_profile(master, plan, output)
        self.size_px = (plan.file_box.width, plan.file_box.height)
        self._file = Box(0, 0, *self.size_px)
        self._eight_bits = plan.delivery.file_format in {
            FileFormat.TIFF_8,
            FileFormat.JPEG,
        }
        self._weights = luminance_weights(master.profile)
        if plan.delivery.colour is Delivery.WORKING_COLOUR:
            conversion = linear_to_codes(master.profile)
        else:
            conversion = self._pipeline_to(master.profile, self.profile)
        self._coded = conversion.from_linear
        self.cache = RegionCache() if cache is None else cache
        self._stages = stages_of(plan, light, self._weights, self.cache)
        self._reach_px = sum(stage.reach_px for stage in self._stages)
        # Nothing in it leads back to this sheet, which so goes when it is let go.
        reduced = partial(_reduced_light, light, plan, self._weights)
        self._around = Surroundings(plan, master.profile, self._coded, reduced)

    @property
    def channels(self) -> int:
        """Channels of the file."""
        return self.profile.channels

    @property
    def delivered(self) -> Profile:
        """
        Profile that the picture's colours are judged by.

        The paper's; for a file in a named space, that space, where it is not known
        which paper an outside service prints on.
        """
        return self.profile if self._is_judged_by_space else self.output

    @property
    def delivered_name(self) -> str:
        """What `delivered` is, in words: the paper, or the space of the file."""
        plan = self.plan
        named = plan.delivery.named_space if self._is_judged_by_space else None
        return str(named or plan.paper.name)

    @property
    def _is_judged_by_space(self) -> bool:
        """Whether only the space of the file is known, and not the paper."""
        plan = self.plan
        is_paper_known = (
            plan.printer.service is not None and self.output.device_class == "prtr"
        )
        return plan.delivery.colour is Delivery.NAMED_SPACE and not is_paper_known

    @property
    def dtype(self) -> np.dtype[np.uint8] | np.dtype[np.uint16]:
        """Number type of the file."""
        return np.dtype(np.uint8) if self._eight_bits else np.dtype(np.uint16)

    def window(self, box: Box) -> NDArray[np.uint8] | NDArray[np.uint16]:
        """
        A box of the finished file, bit for bit.

        Parameters
        ----------
        box : Box
            In file pixels, inside the file.

        Returns
        -------
        ndarray of uint8 or uint16, shape (box.height, box.width, channels)

        Raises
        ------
        SpecError
            If the box is empty or leaves the file.
        """
        require_inside(box, self._file, "the file")
        return self._to_depth(self._placed(box), box.left, box.top)

    def proof_window(self, box: Box, appearance: Appearance) -> NDArray[np.uint8]:
        """
        A box of the print as it will look, for an sRGB screen.

        Parameters
        ----------
        box : Box
            In file pixels, inside the file.

        Returns
        -------
        ndarray of uint8, shape (box.height, box.width, 3)
            sRGB.

        Raises
        ------
        SpecError
            If the box is empty or leaves the file.
        """
        return self.proof(self.window(box), appearance)

    def proof(
        self,
        values: NDArray[np.uint8] | NDArray[np.uint16],
        appearance: Appearance,
    ) -> NDArray[np.uint8]:
        """
        File values as the print will look, for an sRGB screen.

        Parameters
        ----------
        values : ndarray of uint8 or uint16, shape (rows, columns, channels)
            From `window` or `overview`.

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3)
            sRGB.

        Notes
        -----
        Through `printer_values`.
        """
        screen = device_to_screen(self.output, APPEARANCE_INTENT[appearance])
        return screen.from_device(self.printer_values(values))

    def printer_values(
        self, values: NDArray[np.uint8] | NDArray[np.uint16]
    ) -> NDArray[np.uint16]:
        """
        File values as numbers of the printer.

        Parameters
        ----------
        values : ndarray of uint8 or uint16, shape (rows, columns, channels)
            From `window` or `overview`.

        Returns
        -------
        ndarray of uint16, shape (rows, columns, channels of the paper's profile)

        Notes
        -----
        Values that are not yet the printer's own are converted with the plan's
        intent, as the print dialogue or the print service is to do.
        """
        device = values.astype(np.uint16, copy=False)
        if values.dtype == np.uint8:
            device = device * np.uint16(257)
        if self.profile == self.output:
            return device
        linear = linear_of_codes(device, self.profile)
        return self._pipeline_to(self.profile, self.output).from_linear(linear)

    def overview(self, longest_px: int) -> Overview:
        """
        The whole file at reduced size, without sharpening.

        Parameters
        ----------
        longest_px : int
            Longest edge of the result, 16 or more.

        Raises
        ------
        SpecError
            If the edge is too short to show anything.
        """
        require_shown(longest_px)
        scale = min(longest_px / max(self.size_px), 1.0)
        width, height = (max(round(edge * scale), 1) for edge in self.size_px)
        plan = self.plan
        placed = self._white(height, width)
        block, front, picture = (
            _reduced(plan.in_file(box), scale, width, height)
            for box in (plan.block, plan.front, plan.picture)
        )
        linear = self.reduced_picture(picture.width, picture.height)
        codes = self._coded(linear)
        codes = self._around.reduced(codes, (block, front, picture), scale)
        placed[block.top : block.bottom, block.left : block.right] = codes
        self._around.draw_reduced(placed, scale)
        return Overview(placed, scale, picture, linear)

    def reduced_picture(self, width: int, height: int) -> NDArray[np.float32]:
        """
        The picture at reduced size in linear light, lightened but not sharpened.

        Parameters
        ----------
        width, height : int
            1 or more.

        Returns
        -------
        ndarray of float32, shape (channels, height, width)
            0 to 1, of the master's profile; not to be changed.
        """
        return _reduced_light(self.light, self.plan, self._weights, (width, height))

    def bands(self) -> Iterator[tuple[int, NDArray[np.uint8] | NDArray[np.uint16]]]:
        """
        The whole file from top to bottom, in full-width bands.

        Yields
        ------
        tuple of int and ndarray
            First row, and shape (rows, width, channels) of the file's number type.

        Notes
        -----
        Bands of light and finished bands are computed ahead by a few threads, and
        dropped when the file has passed them: memory follows the width of the
        picture, not its area.

        Raises
        ------
        RenderError
            If the picture cannot be computed, or becomes one single value.
        """
        look = LastLook()
        picture = self.plan.picture_in_file
        width, height = self.size_px
        finish = partial(self._finish_across, look=look)
        with finished_bands(self.light, self._reach_px, finish) as finished:
            yield from self._placed_bands(0, picture.top)
            for band, placed in finished:
                top = picture.top + band.top
                self._around.put_sides(placed, band)
                self._around.draw(placed, Box(0, top, width, band.height))
                yield top, self._to_depth(placed, 0, top)
        look.require_detail()
        yield from self._placed_bands(picture.bottom, height)

    def _placed_bands(
        self, top: int, bottom: int
    ) -> Iterator[tuple[int, NDArray[np.uint8] | NDArray[np.uint16]]]:
        """What lies above and below the picture: white, and sides of a wrap."""
        step = max(_WHITE_BAND_PIXELS // self.size_px[0], 1)
        for start in range(top, bottom, step):
            rows = min(step, bottom - start)
            placed = self._placed(Box(0, start, self.size_px[0], rows))
            if self._around.is_wrapped:  # what is kept would only be in the way
                self.cache.forget()
            yield start, self._to_depth(placed, 0, start)

    def _placed(self, box: Box) -> NDArray[np.uint16]:
        """A box of the file: the picture with its sides, and what lies round it."""
        block = self.plan.in_file(self.plan.block)
        part = block.common(box)
        if part is not None:
            own = part.moved(-block.left, -block.top)
            made = self._around.block(own, self._finished)
            if part == box:
                return made
        placed = self._white(box.height, box.width)
        if part is not None:
            at = part.moved(-box.left, -box.top)
            placed[at.top : at.bottom, at.left : at.right] = made
        self._around.draw(placed, box)
        return placed

    def _finished(self, box: Box) -> NDArray[np.uint16]:
        """A box of the picture, by two threads where that is worth it."""
        done = np.empty((box.height, box.width, self.channels), np.uint16)

        def kept_light(region: Box) -> NDArray[np.float32]:
            return self.cache.get(
                "light", region, None, lambda: self.light.region(region)
            )

        def finish(first: int, stop: int) -> None:
            part = Box(box.left, box.top + first, box.width, stop - first)
            self._finish(kept_light, part, done[first:stop])

        in_parts(finish, box.height, unit=box.width)
        return done

    def _finish_across(
        self, source: Before, band: Box, look: LastLook
    ) -> NDArray[np.uint16]:
        """A band of the picture between white, as wide as the file."""
        picture = self.plan.picture_in_file
        placed = empty((band.height, self.size_px[0], self.channels), np.uint16)
        white = paper_white(self.profile.space)
        placed[:, : picture.left] = placed[:, picture.right :] = white

        def looked_at(region: Box) -> NDArray[np.float32]:
            light = source(region)
            look.at_light(light)
            return light

        own = placed[:, picture.left : picture.right]
        look.at_codes(self._finish(looked_at, band, own))
        return placed

    def _finish(
        self, source: Before, box: Box, into: NDArray[np.uint16]
    ) -> NDArray[np.uint16]:
        """A box of the picture, from its resampled light to codes at their place."""
        return self._coded(staged(self._stages, box, source), into)

    def _pipeline_to(self, source: Profile, target: Profile) -> Conversion:
        colour = self.plan.spec.colour
        return linear_to_device(
            source,
            target,
            intent=colour.intent,
            black_point_compensation=colour.black_point_compensation,
        )

    def _white(self, rows: int, columns: int) -> NDArray[np.uint16]:
        placed = empty((rows, columns, self.channels), np.uint16)
        placed[...] = paper_white(self.profile.space)
        return placed

    def _to_depth(
        self, values: NDArray[np.uint16], left: int, top: int
    ) -> NDArray[np.uint8] | NDArray[np.uint16]:
        if not self._eight_bits:
            return values
        return dithered_to_8_bit(values, left, top, self.plan.delivery.dither_seed)


def _reduced_light(
    light: ResampledLight,
    plan: PrintPlan,
    weights: NDArray[np.float64],
    size_px: tuple[int, int],
) -> NDArray[np.float32]:
    """See `Sheet.reduced_picture`."""
    linear = light.reduced(size_px)
    lighten_l = plan.spec.colour.lighten_l
    if lighten_l != 0:
        linear = lighten(linear.copy(), weights, lighten_l)
    return linear


def _reduced(box: Box, scale: float, width: int, height: int) -> Box:
    """A box of the file in an overview of that size."""
    left, top = round(box.left * scale), round(box.top * scale)
    right = min(max(round(box.right * scale), left + 1), width)
    bottom = min(max(round(box.bottom * scale), top + 1), height)
    return Box(left, top, right - left, bottom - top)


def build_sheet(master: Master, plan: PrintPlan, reuse: Sheet | None = None) -> Sheet:
    """
    Compose the stages of a plan; nothing is computed yet.

    Parameters
    ----------
    master : Master
        The one that the plan was made for.
    reuse : Sheet, optional
        An earlier sheet, whose resampled pixels are kept if size and crop are the
        same.

    Raises
    ------
    SpecError
        If the plan was made for another master.
    ProfileError
        If the paper's profile is missing, damaged or no output profile.
    """
    if master.facts.sha256 != plan.facts.sha256:
        raise SpecError(
            f"The plan was made for {plan.facts.path}; the master is "
            f"{master.facts.path}.",
            remedy="Resolve the plan again with this master's facts.",
        )
    output = paper_profile(plan.setup.profile)
    size_px = (plan.picture.width, plan.picture.height)
    crop = plan.crop
    if reuse is not None and reuse.light.serves(master, crop, size_px):
        return Sheet(master, plan, reuse.light, output, reuse.cache)
    return Sheet(master, plan, ResampledLight(master, crop, size_px), output)


def varied(sheet: Sheet, spec: PrintSpec) -> Sheet:
    """
    The same master, paper and printer under another wish.

    Parameters
    ----------
    sheet : Sheet
        Its resampled pixels are shared where size and crop are the same.

    Returns
    -------
    Sheet
        A new one.

    Raises
    ------
    PrintPlanError
        If it cannot be made.
    """
    old = sheet.plan
    plan = resolve(old.facts, old.paper, old.printer, spec)
    return build_sheet(sheet.master, plan, reuse=sheet)


def _file_profile(master: Master, plan: PrintPlan, output: Profile) -> Profile:
    """What the numbers of the delivery mean."""
    if plan.delivery.colour is Delivery.PRINTER_COLOUR:
        return output
    if plan.delivery.colour is Delivery.WORKING_COLOUR:
        return master.profile
    if plan.delivery.named_space is None:
        raise ProfileError(
            "The delivery names no colour space.",
            remedy="Choose the space, for example sRGB.",
        )
    return named_profile(plan.delivery.named_space)
