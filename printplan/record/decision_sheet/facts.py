"""What does the decision sheet of a print say, before it becomes a page?"""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from printplan.checks import Level
from printplan.colour.conversion import linear_to_device
from printplan.colour.spaces import named_profile
from printplan.errors import RecordError
from printplan.pixels.comparisons import picture_proof
from printplan.pixels.consequences import judged
from printplan.pixels.sheet import Appearance
from printplan.pixels.small_picture import SmallPicture, small_picture
from printplan.record.decision_sheet.colour_facts import (
    colour_section,
    sharpening_facts,
)
from printplan.record.decision_sheet.dialogue import (
    CAUTIONS,
    checks_by_hand,
    dialogue_of,
    heading_by_hand,
)
from printplan.record.decision_sheet.mat_facts import mat_cautions, mat_section
from printplan.record.decision_sheet.print_facts import (
    Row,
    Section,
    check_header,
    cost_section,
    delivery_section,
    print_section,
)
from printplan.record.decision_sheet.sheet_drawing import draw_sheet
from printplan.spec import BlackPointCompensation, Delivery, Intent, NamedSpace
from printplan.units import LengthUnit, short_words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from printplan.pixels.sheet import Sheet
    from printplan.plan import PrintPlan
    from printplan.record.cost import CostBasis
    from printplan.record.decision_sheet.dialogue import Dialogue
    from printplan.record.decision_sheet.sheet_drawing import VectorDrawing
    from printplan.record.record import PrintRecord, RecordedFile, RecordedFinding


LONGEST_PX = 1200
"""Longest edge of the sheet that the pictures are cut from: 300 ppi in print for a
picture of 100 mm. Our choice."""


def small_pictures(sheet: Sheet) -> tuple[SmallPicture, SmallPicture]:
    """
    The picture as it was decided, and its proof on the paper.

    Returns
    -------
    tuple of SmallPicture
        The picture after crop and change of tone, and the proof of paper in the room;
        both as overviews, not sharpened. What sRGB cannot hold is cut.
    """
    overview = sheet.overview(LONGEST_PX)
    screen = linear_to_device(
        sheet.master.profile,
        named_profile(NamedSpace.SRGB),
        intent=Intent.MEDIA_RELATIVE,
        black_point_compensation=BlackPointCompensation.OFF,
    )
    codes = screen.from_linear(overview.linear).astype(np.uint32)
    picture = ((codes + 128) // 257).astype(np.uint8)
    proof = picture_proof(sheet, overview, Appearance.PAPER_IN_THE_ROOM)
    paper = sheet.plan.paper.name
    return (
        small_picture(picture, "The picture as it was decided, overview."),
        small_picture(proof, f"Soft proof of the picture on {paper}, overview."),
    )


DRAWING_MM = (60.0, 42.0)
"""Room for the drawing of the sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hash:
    """
    A file that the print depends on, or that was made.

    Attributes
    ----------
    name : str
        Of the file, or what it calls itself.
    digest : str
        SHA-256 unless the name says another.
    """

    what: str
    name: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionFacts:
    """
    All that the page says, in words, drawings and small pictures.

    Attributes
    ----------
    title, line : str
        The picture's name, and the print in one line.
    header : tuple of Row
        What is read first; see `check_header`.
    made_on : datetime
        The same as a moment.
    edition : str
        Number in its edition as it was issued; empty if none was.
    responses : VectorDrawing or None
        None if the picture's content could not be measured.
    mat : Section or None
        None without a mat whose size is decided.
    findings : tuple of RecordedFinding
        Gravest first.
    """

    title: str
    line: str
    header: tuple[Row, ...]
    made_at: str
    made_on: datetime
    edition: str
    notes: tuple[str, ...]
    picture: SmallPicture
    proof: SmallPicture
    sheet_drawing: VectorDrawing
    responses: VectorDrawing | None
    print_section: Section
    sharpening: Section
    colour: Section
    delivery: Section
    cost: Section
    mat: Section | None
    findings: tuple[RecordedFinding, ...]
    dialogue: Dialogue
    by_hand_heading: str
    by_hand: tuple[str, ...]
    cautions: tuple[str, ...]
    hashes: tuple[Hash, ...]
    versions: str


def decision_facts(
    record: PrintRecord,
    sheet: Sheet,
    *,
    cost: CostBasis | None = None,
    edition: str = "",
) -> DecisionFacts:
    """
    Gather what the decision sheet of a print says.

    Parameters
    ----------
    sheet : Sheet
        That the record was made of, or that `open_record` gives.
    cost : CostBasis, optional
        What is known of prices and amounts.
    edition : str, optional
        Such as ``3 of 10``.

    Raises
    ------
    RecordError
        If the sheet is not the record's.
    ProfileError
        If the paper's profile has no way to its device or back.

    Notes
    -----
    The picture's content is measured and the intents are compared anew, which takes
    some seconds; all else is as it was recorded.
    """
    _require_same(record, sheet)
    plan = sheet.plan
    by_service = plan.delivery.colour is Delivery.NAMED_SPACE
    picture, proof = small_pictures(sheet)
    sharpening, responses = sharpening_facts(sheet)
    name = Path(record.facts.path)
    return DecisionFacts(
        title=name.stem,
        line=_line(plan),
        header=check_header(plan, file_profile=record.file_profile.description),
        made_at=_moment_words(record),
        made_on=record.moment,
        edition=edition,
        notes=tuple(_notes(record)),
        picture=picture,
        proof=proof,
        sheet_drawing=draw_sheet(
            plan, proof.jpeg, width_mm=DRAWING_MM[0], height_mm=DRAWING_MM[1]
        ),
        responses=responses,
        print_section=print_section(plan),
        sharpening=sharpening,
        colour=colour_section(sheet, judged(sheet)),
        delivery=delivery_section(sheet, record.rendered),
        cost=cost_section(cost, by_service=by_service),
        mat=mat_section(plan),
        findings=tuple(sorted(record.findings, key=_gravest_first)),
        dialogue=dialogue_of(
            plan,
            profile=record.profile.description,
            file_profile=record.file_profile.description,
        ),
        by_hand_heading=heading_by_hand(plan),
        by_hand=checks_by_hand(plan),
        # The first is of blades and the last of rules, as those of the page are.
        cautions=(CAUTIONS[0], *mat_cautions(plan)[1:-1], *CAUTIONS[1:]),
        hashes=(
            Hash(what="Master", name=name.name, digest=record.facts.sha256),
            Hash(
                what="Paper's profile",
                name=record.profile.description,
                digest=record.profile.sha256,
            ),
            Hash(
                what="Finished file",
                name=Path(record.rendered.path).name,
                digest=record.rendered.sha256,
            ),
            _pixel_hash(record.rendered),
        ),
        versions=", ".join(
            f"{field.name} {getattr(record.versions, field.name)}"
            for field in fields(record.versions)
        ),
    )


def _pixel_hash(rendered: RecordedFile) -> Hash:
    before = "before the file format"
    if rendered.pixel_blake3:
        name, digest = f"{before}, by BLAKE3", rendered.pixel_blake3
    else:
        name, digest = before, rendered.pixel_sha256
    return Hash(what="Its pixels", name=name, digest=digest)


def _require_same(record: PrintRecord, sheet: Sheet) -> None:
    plan = sheet.plan
    ours = (record.spec, record.paper, record.printer, record.facts.sha256)
    theirs = (plan.spec, plan.paper, plan.printer, plan.facts.sha256)
    if ours != theirs or record.profile.sha256 != sheet.output.sha256:
        raise RecordError(
            f"The record is of {Path(record.facts.path).name} on {record.paper.name}; "
            "the sheet is of another master, wish, paper or profile.",
            remedy="Open the sheet from the record itself.",
        )


def _line(plan: PrintPlan) -> str:
    size, unit = plan.picture_size, plan.spec.lengths_in
    edges = (
        (size.width_mm, size.height_mm)
        if unit is LengthUnit.INCHES
        else (round(size.width_mm), round(size.height_mm))
    )
    by = (
        "by a print service"
        if plan.delivery.colour is Delivery.NAMED_SPACE
        else plan.printer.name
    )
    return f"{short_words(unit, *edges)} on {plan.paper.name}, {by}"


def _gravest_first(kept: RecordedFinding) -> int:
    return -list(Level).index(kept.finding.level)


def _notes(record: PrintRecord) -> Iterator[str]:
    if record.note:
        yield f"This print: {record.note}"
    if record.plan_note:
        yield f"Its plan: {record.plan_note}"


def _moment_words(record: PrintRecord) -> str:
    moment = record.moment
    offset = moment.isoformat()[-6:] if moment.utcoffset() else "±00:00"
    return f"{moment.day} {moment:%B %Y, %H:%M} (UTC{offset})"
