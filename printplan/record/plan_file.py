"""How is the plan of one print saved in a file that people can read and edit?"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from printplan.errors import RecordError, SpecError
from printplan.pixels.master import open_master
from printplan.pixels.sheet import build_sheet
from printplan.plan import resolve
from printplan.record.atomic_write import FileHeader, change_text, read_text, write_text
from printplan.record.paper_book import read_paper_book
from printplan.record.toml_reading import gave_inches, parse_text, value_from_table
from printplan.record.toml_writing import cannot_edit, edited_text, text_from_value
from printplan.spec import (
    HIGHEST_PPI,
    LONGEST_MM,
    LOWEST_PPI,
    MOST_BLEED_MM,
    SHORTEST_MM,
    UNSAID,
    AlphaRule,
    BlackPointCompensation,
    CaptionPart,
    ColourSpec,
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    Intent,
    Marks,
    MasterSpec,
    MatMargins,
    MountSpec,
    NamedSpace,
    Orientation,
    Placement,
    PrintSpec,
    RollWay,
    RoomSpec,
    SharpenSpec,
    SheetSpec,
    SizeRule,
    SizeSpec,
    WhiteSpec,
    WrapSide,
    WrapSpec,
)
from printplan.units import LengthUnit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from printplan.pixels.sheet import Sheet


PLAN_HEADER: Final = FileHeader(
    name="printplan plan",
    version=1,
    heading="The plan of one print. Any length name_mm may be given in inches instead: "
    "name_in.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFile:
    """
    All that a plan file says.

    Attributes
    ----------
    book : str
        Path of the paper book, as written: from the plan file's folder.
    paper, printer : str
        Names in that book.
    """

    master: MasterSpec
    book: str
    paper: str
    printer: str
    spec: PrintSpec
    note: str = ""

    def __post_init__(self) -> None:
        for name, value in (
            ("master file", self.master.file),
            ("paper book", self.book),
            ("paper", self.paper),
            ("printer", self.printer),
        ):
            if not value.strip():
                raise RecordError(
                    f"The plan names no {name}.",
                    remedy=f"Give the {name} of this print.",
                )

    def resolved(self, plan_path: str | Path) -> PlanFile:
        """
        The same plan with the absolute paths of what it names.

        Parameters
        ----------
        plan_path : str or Path
            The plan file; relative paths begin in its folder.

        Returns
        -------
        PlanFile
            Master, paper book, a kernel and an assumed profile's file as absolute
            paths.
        """
        folder = Path(plan_path).absolute().parent
        return replace(
            self,
            master=with_master_paths(self.master, lambda it: str(folder / it)),
            book=str(folder / self.book),
            spec=with_kernel_path(self.spec, lambda it: str(folder / it)),
        )


def with_master_paths(master: MasterSpec, rewrite: Callable[[str], str]) -> MasterSpec:
    """
    The same master with other paths of its file and of an assumed profile.

    Parameters
    ----------
    rewrite : callable
        Makes the new path out of the old one.
    """
    assumed = master.assume_profile
    if assumed and assumed not in set(NamedSpace):
        assumed = rewrite(assumed)
    return replace(master, file=rewrite(master.file), assume_profile=assumed)


def with_kernel_path(spec: PrintSpec, rewrite: Callable[[str], str]) -> PrintSpec:
    """The same spec with another path of its kernel, if it has one."""
    sharpen = spec.sharpen
    if not sharpen.kernel:
        return spec
    return replace(spec, sharpen=replace(sharpen, kernel=rewrite(sharpen.kernel)))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLayout:
    """
    A plan as its file lays it out: each part of the spec is a table of its own.

    Attributes
    ----------
    book, paper, printer, note, master
        As in `PlanFile`.
    setup
        As in `PrintSpec`.
    lengths_in : LengthUnit or None
        None for the unit that the size is given in.
    size, sheet, sharpen, colour, mount, wrap, white, room, delivery
        As in `PrintSpec`.
    """

    book: str
    paper: str
    printer: str
    setup: str = field(default="", metadata={UNSAID: True})
    note: str = ""
    lengths_in: LengthUnit | None = None
    master: MasterSpec
    size: SizeSpec
    sheet: SheetSpec
    sharpen: SharpenSpec = field(default_factory=SharpenSpec)
    colour: ColourSpec = field(default_factory=ColourSpec)
    mount: MountSpec = field(default_factory=MountSpec)
    wrap: WrapSpec = field(default_factory=WrapSpec, metadata={UNSAID: True})
    white: WhiteSpec = field(default_factory=WhiteSpec, metadata={UNSAID: True})
    room: RoomSpec = field(default_factory=RoomSpec)
    delivery: DeliverySpec = field(default_factory=DeliverySpec)


_SPEC_PARTS = [it.name for it in fields(PrintSpec) if it.name != "lengths_in"]


def _words(words: Iterable[str]) -> str:
    return " | ".join(words)


_EDGE = f"{SHORTEST_MM:g} to {LONGEST_MM:g} mm"

PLAN_COMMENTS: Final = {
    "book": "the paper book, from this file's folder",
    "paper": "its name in the paper book",
    "printer": "its name in the paper book",
    "setup": "which of the paper's setups on it; empty for the first in use",
    "lengths_in": f"{_words(LengthUnit)}: unit that findings and pages speak in",
    "master": "what is printed",
    "master.file": "from this file's folder",
    "master.assume_profile": "for a master that carries none: "
    f"{_words(NamedSpace)} | a profile's file",
    "master.alpha": _words(AlphaRule),
    "size": "the picture on paper, without border",
    "size.rule": _words(SizeRule),
    "size.ppi": f"picture pixels per inch, {LOWEST_PPI:g} to {HIGHEST_PPI:g}",
    "size.width_mm": _EDGE,
    "size.height_mm": _EDGE,
    "size.longest_mm": _EDGE,
    "size.crop_centre_x_share": "kept central by fill: 0 left to 1 right",
    "size.crop_centre_y_share": "kept central by fill: 0 top to 1 bottom",
    "sheet": "the paper, and the picture's place on it",
    "sheet.media_size": "A3, 13x19 in and the like | custom, with width_mm and "
    "height_mm | 24 in roll: its length follows",
    "sheet.feed": "a feed path of the printer",
    "sheet.width_mm": f"of a roll, its width; {_EDGE}",
    "sheet.height_mm": f"of a roll, the length cut off; {_EDGE}",
    "sheet.orientation": _words(Orientation),
    "sheet.placement": _words(Placement),
    "sheet.offset_right_mm": "of the picture's centre from the sheet's, with offset",
    "sheet.offset_down_mm": "of the picture's centre from the sheet's, with offset",
    "sheet.border_mm": "white paper kept round the picture, 0 to 1000 mm",
    "sheet.roll_way": f"on a roll whose length follows: {_words(RollWay)}",
    "sheet.deckle_mm": "kept clear along uneven edges of the sheet, 0 to 100 mm",
    "sheet.bleed_mm": "printed beyond each edge of the sheet, 0 to 20 mm; what lies "
    "there is lost",
    "sharpen": "unsharp masking of lightness at print size",
    "sharpen.gain": "0 to 10; 0 is none",
    "sharpen.radius_mm": "on paper, 0.01 to 5 mm",
    "sharpen.halo_limit_share": "greatest overshoot in the file, as a share of the "
    "edge",
    "sharpen.grain_floor_l": "lightness step up to which nothing is sharpened",
    "sharpen.restore": "what they were chosen for: share of the loss, 0 to 1.5",
    "sharpen.distance_mm": "what they were chosen for: eye to paper",
    "sharpen.kernel": "a CSV file from this folder, with a kernel that blurs in "
    "place of the Gaussian",
    "sharpen.print_halo_limit_share": "what they were chosen under: greatest overshoot "
    "in the print, 0.005 to 1",
    "colour": "from the master to the paper",
    "colour.intent": _words(Intent),
    "colour.black_point_compensation": _words(BlackPointCompensation),
    "colour.lighten_l": "rise of the middle tones for a dim room, -15 to 15 L*",
    "mount": "what it is mounted in; checked, and changes no pixel",
    "mount.mat_opening_width_mm": f"as the picture stands, {_EDGE}",
    "mount.mat_opening_height_mm": f"as the picture stands, {_EDGE}",
    "mount.wrap_mm": "picture that goes round a stretcher bar, 0 to 500 mm",
    "mount.stretcher_depth_mm": "of that bar, 0 to 500 mm",
    "mount.mat_overlap_mm": "instead of an opening: picture that it covers on each "
    "side, 0 to 500 mm",
    "mount.reveal_mm": "instead of an opening: white that it shows round the "
    "picture, 0 to 1000 mm",
    "mount.reveal_below_mm": "white below the picture, if other than round it, 0 to "
    "1000 mm",
    "mount.mat_outer_width_mm": f"the mat itself, {_EDGE}",
    "mount.mat_outer_height_mm": f"the mat itself, {_EDGE}",
    "mount.mat_margin_mm": "instead of its size: board round the opening, 10 to "
    "2000 mm",
    "mount.mat_margins": _words(MatMargins),
    "mount.mat_foot_mm": "how much wider the foot is than the top, with "
    "bottom-weighted, 0 to 500 mm",
    "mount.frame_width_mm": f"of the frame's glass, {_EDGE}",
    "mount.frame_height_mm": f"of the frame's glass, {_EDGE}",
    "mount.frame_rebate_mm": "what the frame hides of the glass on each side, 0 to "
    "500 mm",
    "wrap": "a canvas round a bar: sides that are added to the size",
    "wrap.bar_depth_mm": "0 to 500 mm",
    "wrap.turn_over_mm": "printed further, to be fixed at the back, 0 to 500 mm",
    "wrap.left": _words(WrapSide),
    "wrap.colour": "of sides in one colour: #rrggbb, sRGB",
    "wrap.edge_mm": "of the front: what is stretched, or gives the mean",
    "wrap.shrinks_across_percent": "shorter when it hangs than as printed, across the "
    "feed; below 0 if longer",
    "wrap.shrinks_along_percent": "the same along the feed",
    "white": "what is printed on the white outside the picture",
    "white.key_line_mm": "thickness of a line round the picture; 0 is none",
    "white.key_line_gap_mm": "white between picture and line",
    "white.key_line_l": "its lightness, 0 to 100 L*",
    "white.marks": f"where to cut and fold: {_words(Marks)}",
    "white.caption": f"a line below the picture, of any of: {_words(CaptionPart)}",
    "white.caption_mm": "height of its letters, 1 to 50 mm",
    "white.caption_gap_mm": "white above it",
    "room": "the light that print and display are looked at in",
    "room.illuminance_lx": "on the print where it will hang, 1 to 20000 lx",
    "room.display_cd_m2": "of the display's white, 10 to 5000 cd/m2",
    "delivery": "the finished file",
    "delivery.colour": _words(Delivery),
    "delivery.named_space": _words(NamedSpace),
    "delivery.file_format": _words(FileFormat),
    "delivery.extent": _words(Extent),
    "delivery.dither_seed": "the same number gives the same 8-bit file",
    "delivery.copies": "prints to be made of the file",
    "delivery.jpeg_quality": "of a JPEG, on libjpeg's scale up to 100",
    "delivery.exact_width_px": "that the file has to have",
    "delivery.exact_height_px": "that the file has to have",
    "delivery.bleed_mm": "picture beyond the print's size on each side, trimmed off; "
    f"0 to {MOST_BLEED_MM:g} mm",
}
"""What a new plan file says behind its keys."""


def parse_plan_text(text: str, *, where: str) -> PlanFile:
    """
    Read a plan from its text.

    Parameters
    ----------
    where : str
        Name of the file, for errors.

    Raises
    ------
    RecordError
        If the text is not a plan, or a key is unknown, missing or of the wrong kind.
    SpecError
        If what it asks contradicts itself or leaves its range.
    """
    table = parse_text(text, PLAN_HEADER, where=where)
    layout = value_from_table(PlanLayout, table, where=where)
    asked_in = LengthUnit.INCHES if gave_inches(table, "size") else LengthUnit.MM
    try:
        return PlanFile(
            master=layout.master,
            book=layout.book,
            paper=layout.paper,
            printer=layout.printer,
            note=layout.note,
            spec=PrintSpec(
                lengths_in=layout.lengths_in or asked_in,
                **{name: getattr(layout, name) for name in _SPEC_PARTS},
            ),
        )
    except (RecordError, SpecError) as error:
        raise type(error)(f"{where}: {error.problem}", remedy=error.remedy) from error


def plan_layout(
    plan_file: PlanFile, *, lengths_in: LengthUnit | None = None
) -> PlanLayout:
    """
    A plan as its file lays it out.

    Parameters
    ----------
    lengths_in : LengthUnit, optional
        Unit that the file names; none if not given, which its keys then tell.
    """
    spec = plan_file.spec
    return PlanLayout(
        book=plan_file.book,
        paper=plan_file.paper,
        printer=plan_file.printer,
        note=plan_file.note,
        lengths_in=lengths_in,
        master=plan_file.master,
        **{name: getattr(spec, name) for name in _SPEC_PARTS},
    )


def plan_file_text(plan_file: PlanFile) -> str:
    """
    Write a plan as text.

    Returns
    -------
    str
        TOML with a comment behind each key, which reads back as the same plan.

    Raises
    ------
    RecordError
        If a name or path holds half of a character pair, which no file can hold.
    """
    # Lengths are written in millimetres, so that only inches have to be named.
    unit = plan_file.spec.lengths_in
    told = unit if unit is LengthUnit.INCHES else None
    layout = plan_layout(plan_file, lengths_in=told)
    return text_from_value(layout, PLAN_HEADER, PLAN_COMMENTS)


def read_plan_file(path: str | Path) -> PlanFile:
    """
    Read a plan file.

    Returns
    -------
    PlanFile
        With its paths as written; see `PlanFile.resolved`.

    Raises
    ------
    RecordError
        If it cannot be read or is not a plan.
    SpecError
        If what it asks contradicts itself or leaves its range.
    """
    return parse_plan_text(read_text(path), where=str(path))


def write_plan_file(
    plan_file: PlanFile, path: str | Path, *, overwrite: bool = False
) -> None:
    """
    Write a plan file, whole or not at all.

    Parameters
    ----------
    overwrite : bool, optional
        Permits a plan file of that name to be replaced.

    Raises
    ------
    RecordError
        If it exists already or cannot be written.
    """
    write_text(plan_file_text(plan_file), path, PLAN_HEADER, overwrite=overwrite)


def save_plan(plan_file: PlanFile, path: str | Path, *, as_read: str) -> str:
    """
    Write a plan over the file that it was read from, if nobody else has.

    Parameters
    ----------
    plan_file : PlanFile
        With its paths as written.
    path : str or Path
        The plan file.
    as_read : str
        What the file held when it was read. A person's comments, and the keys that
        do not change, stay as they were typed.

    Returns
    -------
    str
        What the file holds now.

    Raises
    ------
    RecordError
        If the file is no longer as it was read, or cannot be read or written.
    """
    text = _changed(as_read, plan_file, where=str(path))

    def if_as_read(now: str | None) -> str:
        if now != as_read:
            raise RecordError(
                f"{path} was changed by another program since it was opened here.",
                remedy="Save this plan under another name, or open the file again to "
                "go on from what it says now.",
            )
        return text

    return change_text(path, PLAN_HEADER, if_as_read)


def _changed(text: str, plan_file: PlanFile, *, where: str) -> str:
    """The text of a plan file with another plan in it."""
    old = parse_plan_text(text, where=where)
    if old == plan_file:
        return text
    named = parse_text(text, PLAN_HEADER, where=where).get("lengths_in")
    typed = None if named is None else old.spec.lengths_in
    # A unit that the keys told is named where they no longer do.
    for told in (typed, plan_file.spec.lengths_in):
        edited = edited_text(
            text,
            plan_layout(old, lengths_in=typed),
            plan_layout(plan_file, lengths_in=told),
            PLAN_COMMENTS,
            where=where,
        )
        if parse_plan_text(edited, where=where) == plan_file:
            return edited
    raise cannot_edit(where)


def open_plan(path: str | Path) -> Sheet:
    """
    Read a plan file and open all that it names.

    Returns
    -------
    Sheet
        Nothing is computed yet. Close its master when done with it.

    Raises
    ------
    PrintPlanError
        If the plan, its paper book, its master or the paper's profile cannot be
        read, or the print cannot be made as asked.
    """
    return open_plan_file(read_plan_file(path).resolved(path))


def open_plan_file(plan_file: PlanFile) -> Sheet:
    """
    Open all that a plan names.

    Parameters
    ----------
    plan_file : PlanFile
        With absolute paths, as `PlanFile.resolved` gives it.

    Returns
    -------
    Sheet
        As from `open_plan`.

    Raises
    ------
    PrintPlanError
        As from `open_plan`.
    """
    book = read_paper_book(plan_file.book)
    paper, printer = book.paper(plan_file.paper), book.printer(plan_file.printer)
    master = open_master(
        plan_file.master.file,
        assume_profile=plan_file.master.assume_profile,
        alpha=plan_file.master.alpha,
    )
    try:
        plan = resolve(master.facts, paper, printer, plan_file.spec)
        return build_sheet(master, plan)
    except BaseException:
        master.close()
        raise
