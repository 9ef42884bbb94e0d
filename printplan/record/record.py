"""What was decided for one print and made of it, so that it can be made again?"""

from __future__ import annotations

import platform
import zlib
from dataclasses import dataclass, field, fields, replace
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

import imagecodecs

from printplan.checks import Decided, Finding
from printplan.colour.spaces import grey_profile, named_profile
from printplan.errors import RecordError, Setting, did_you_mean
from printplan.media import (
    Paper,  # noqa: TC001 - the same
    Printer,  # noqa: TC001 - the same
)
from printplan.pixels.ink_load import InkLoad, ink_load
from printplan.record.journal.entry import require_zone
from printplan.record.paper_book import (
    read_paper_book,
    with_profile_paths,
    with_proof_paths,
)
from printplan.record.plan_file import PlanFile, with_kernel_path, with_master_paths
from printplan.sharpening.kernel import read_kernel
from printplan.spec import (
    UNSAID,
    AlphaRule,
    FileFormat,
    MasterFacts,
    MasterSpec,
    NamedSpace,
    PrintSpec,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from printplan.colour.profiles import Profile
    from printplan.pixels.render import Rendered
    from printplan.pixels.sheet import Sheet
    from printplan.spec import SharpenSpec


@dataclass(frozen=True, slots=True, kw_only=True)
class Versions:
    """
    What computed a file, as each names its own version.

    Attributes
    ----------
    littlecms : str
        As imagecodecs brings it along.
    numba, llvmlite : str
        The compiler of the loops over pixels.
    opencolorio : str
        Computed colours before the loops did; no record names it any more.
    zlib : str
        As Python runs with it.
    machine : str
        Operating system and processor family.

    Notes
    -----
    What a record does not name was not used: it is empty.
    """

    printplan: str
    python: str
    numpy: str
    pillow: str
    imagecodecs: str
    littlecms: str
    scipy: str
    tifffile: str
    zlib: str
    machine: str
    numba: str = ""
    llvmlite: str = ""
    opencolorio: str = ""


_PACKAGES = (
    "printplan",
    "numpy",
    "pillow",
    "imagecodecs",
    "scipy",
    "tifffile",
    "numba",
    "llvmlite",
)


def running_versions() -> Versions:
    """
    The versions in use here and now.

    Raises
    ------
    RecordError
        If one of them is not installed as a package, so that nothing tells its
        version.
    """
    return Versions(
        **{name: _version(name) for name in _PACKAGES},
        python=platform.python_version(),
        littlecms=str(imagecodecs.cms_version()).removeprefix("lcms2 "),
        zlib=zlib.ZLIB_RUNTIME_VERSION,
        machine=f"{platform.system()} {platform.machine()}",
    )


def changed_versions(then: Versions, now: Versions) -> tuple[str, ...]:
    """
    What is no longer as it was.

    Returns
    -------
    tuple of str
        Such as ``numpy 2.1.0 then, 2.2.1 now``; empty if all are the same. What was
        not used is *none*.
    """
    return tuple(
        f"{it.name} {before or 'none'} then, {after or 'none'} now"
        for it in fields(Versions)
        if (before := getattr(then, it.name)) != (after := getattr(now, it.name))
    )


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError as error:
        raise RecordError(
            f"{name} is not installed as a package here, so its version is not known.",
            remedy="Install printplan with python -m pip install, in a checkout with "
            "-e and a full stop.",
        ) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedFinding:
    """
    A finding, and what was done about it.

    Attributes
    ----------
    done : str
        In the photographer's words; empty if nothing was noted.
    """

    finding: Finding
    done: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedProfile:
    """
    A profile as it was used.

    Attributes
    ----------
    description : str
        What it calls itself.
    """

    description: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedFile:
    """
    The finished file.

    Attributes
    ----------
    path : str
        Where it was written.
    sha256, pixel_blake3, width_px, height_px, ppi, width_mm, height_mm
        As in `Rendered`.
    bytes_written, file_format
        As in `Rendered`.
    pixel_sha256 : str
        In place of `pixel_blake3` in records of before.

    Raises
    ------
    RecordError
        If it has no hash of the pixels.
    """

    path: str
    sha256: str
    pixel_blake3: str = field(default="", metadata={UNSAID: True})
    pixel_sha256: str = field(default="", metadata={UNSAID: True})
    width_px: int
    height_px: int
    ppi: float
    width_mm: float
    height_mm: float
    bytes_written: int
    file_format: FileFormat

    def __post_init__(self) -> None:
        if not (self.pixel_blake3 or self.pixel_sha256):
            raise RecordError(
                "The record has no pixel_blake3, the hash of the pixels.",
                remedy="Take the record from a copy of it, or render the plan again.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintRecord:
    """
    One print: all that was asked, found, used and made.

    Attributes
    ----------
    made_at : str
        Date and time with its offset from UTC (ISO 8601); see `moment`.
    note : str
        About this print.
    plan_note : str
        The note in the plan.
    book : str
        Paper book that paper and printer came from; empty if not known.
    currency : str or None
        Of prices of paper and printer that name none, as the book had it.
    master : MasterSpec
        Which file, and how it was read.
    facts : MasterFacts
        What the master was, with its hash.
    printer : Printer
        Both as they stood in the paper book.
    profile : RecordedProfile
        Of the paper on the printer.
    file_profile : RecordedProfile
        What the file's numbers mean; the paper's own for printer colour.
    kernel_sha256 : str
        Of the file of a kernel that blurred in place of the Gaussian; else empty.
    ink_load : InkLoad or None
        What it asks for of the printer's inks; None in records of before, and where
        an outside service prints.
    versions : Versions
        What computed the file.
    """

    made_at: str
    note: str = ""
    plan_note: str = ""
    book: str = ""
    currency: str | None = None
    master: MasterSpec
    spec: PrintSpec
    facts: MasterFacts
    paper: Paper
    printer: Printer
    profile: RecordedProfile
    file_profile: RecordedProfile
    kernel_sha256: str = ""
    findings: tuple[RecordedFinding, ...] = ()
    ink_load: InkLoad | None = field(default=None, metadata={UNSAID: True})
    rendered: RecordedFile
    versions: Versions

    def __post_init__(self) -> None:
        try:
            moment = datetime.fromisoformat(self.made_at)
        except ValueError as error:
            raise RecordError(
                f"made_at is {self.made_at!r}, which is no date and time.",
                remedy="Give it as 2026-05-03T14:05:00+02:00.",
            ) from error
        require_zone(moment)

    @property
    def moment(self) -> datetime:
        """When the file was made, with its zone."""
        return datetime.fromisoformat(self.made_at)

    @property
    def decided(self) -> Decided:
        """What master and profile were, for the checks of a later print."""
        return Decided(
            master_sha256=self.facts.sha256, profile_sha256=self.profile.sha256
        )

    def plan_file(self) -> PlanFile:
        """
        The plan that this print was made from.

        Returns
        -------
        PlanFile
            With absolute paths; `write_plan_file` saves it for a next try.

        Raises
        ------
        RecordError
            If it is not known which paper book the paper came from.
        """
        return PlanFile(
            master=self.master,
            book=self.book,
            paper=self.paper.name,
            printer=self.printer.name,
            spec=self.spec,
            note=self.plan_note,
        )

    def with_paths(self, rewrite: Callable[[str], str]) -> PrintRecord:
        """
        The same record with other paths.

        Parameters
        ----------
        rewrite : callable
            Makes the new path out of the old one; never asked about an empty one.
        """
        return replace(
            self,
            book=rewrite(self.book) if self.book else "",
            master=with_master_paths(self.master, rewrite),
            facts=replace(self.facts, path=rewrite(self.facts.path)),
            paper=with_profile_paths(self.paper, rewrite),
            printer=_with_service_paths(self.printer, rewrite),
            rendered=replace(self.rendered, path=rewrite(self.rendered.path)),
            spec=with_kernel_path(self.spec, rewrite),
        )


def _with_service_paths(printer: Printer, rewrite: Callable[[str], str]) -> Printer:
    if printer.service is None:
        return printer
    return replace(printer, service=with_proof_paths(printer.service, rewrite))


def make_record(  # noqa: PLR0913 - a print, what was known of it, and when
    sheet: Sheet,
    findings: Iterable[Finding],
    rendered: Rendered,
    *,
    made_on: datetime,
    plan_file: PlanFile | None = None,
    actions: Mapping[str, str] | None = None,
    note: str = "",
) -> PrintRecord:
    """
    Record a print.

    Parameters
    ----------
    sheet : Sheet
        What the file was rendered from.
    findings : iterable of Finding
        All that was found, of whatever weight.
    rendered : Rendered
        The file.
    made_on : datetime
        When, with its zone: `datetime.now().astimezone()` at the face.
    plan_file : PlanFile, optional
        The plan with whole paths, for its note, its paper book, and how the master
        is read. The print itself is taken from the sheet.
    actions : mapping of str to str, optional
        What was done about a finding, by its `topic`.
    note : str, optional
        About this print.

    Returns
    -------
    PrintRecord
        With whole paths.

    Raises
    ------
    RecordError
        If the file is not of that sheet, the moment has no zone, an action belongs
        to no finding, nothing tells how to read the master again, or the paper book
        of the plan cannot be read.
    """
    require_zone(made_on)
    _require_same_sheet(sheet, rendered)
    plan = sheet.plan
    record = PrintRecord(
        made_at=made_on.isoformat(timespec="seconds"),
        note=note,
        plan_note=plan_file.note if plan_file is not None else "",
        book=plan_file.book if plan_file is not None else "",
        currency=None
        if plan_file is None
        else read_paper_book(plan_file.book).currency,
        master=_master_spec(sheet, plan_file),
        spec=plan.spec,
        facts=plan.facts,
        paper=plan.paper,
        printer=plan.printer,
        profile=_recorded_profile(sheet.output),
        file_profile=_recorded_profile(sheet.profile),
        kernel_sha256=_kernel_sha256(plan.spec.sharpen),
        findings=with_actions(
            (RecordedFinding(finding=it) for it in findings), actions or {}
        ),
        ink_load=ink_load(sheet),
        rendered=RecordedFile(
            **{it.name: getattr(rendered, it.name) for it in fields(RecordedFile)}
            | {"path": str(rendered.path)}
        ),
        versions=running_versions(),
    )
    return record.with_paths(absolute_path)


def _kernel_sha256(sharpen: SharpenSpec) -> str:
    return read_kernel(sharpen.kernel).sha256 if sharpen.kernel else ""


def absolute_path(path: str) -> str:
    """A path from the root, without steps up and down in it."""
    whole = Path(path).absolute()
    return str(whole.resolve() if ".." in whole.parts else whole)


def _require_same_sheet(sheet: Sheet, rendered: Rendered) -> None:
    made = (rendered.width_px, rendered.height_px, rendered.file_format)
    due = (*sheet.size_px, sheet.plan.delivery.file_format)
    if made != due:
        raise RecordError(
            f"The file {rendered.path.name} is {made[0]} × {made[1]} px of {made[2]}; "
            f"the sheet makes {due[0]} × {due[1]} px of {due[2]}.",
            remedy="Give the sheet that this file was rendered from.",
        )


def _master_spec(sheet: Sheet, plan_file: PlanFile | None) -> MasterSpec:
    """How the master is to be read again."""
    facts = sheet.plan.facts
    if plan_file is not None:
        return replace(plan_file.master, file=facts.path)
    return MasterSpec(
        file=facts.path,
        assume_profile=_named(sheet) if facts.profile_is_assumed else "",
        alpha=AlphaRule.FLATTEN if facts.alpha_was_flattened else AlphaRule.REFUSE,
    )


def _named(sheet: Sheet) -> str:
    """The named space that a master without a profile was read in."""
    for space in NamedSpace:
        known = {named_profile(space).sha256, grey_profile(space).sha256}
        if sheet.plan.facts.profile_sha256 in known:
            return space
    raise RecordError(
        f"The master {sheet.plan.facts.path} was read with a profile from a file, and "
        "the sheet does not know which.",
        remedy="Give the plan that names it.",
        setting=Setting.PLAN_FILE,
    )


def _recorded_profile(profile: Profile) -> RecordedProfile:
    return RecordedProfile(description=profile.name, sha256=profile.sha256)


def with_actions(
    findings: Iterable[RecordedFinding], actions: Mapping[str, str]
) -> tuple[RecordedFinding, ...]:
    """
    The same findings with what was done about them.

    Parameters
    ----------
    actions : mapping of str to str
        By the finding's `topic`; what is not named stays.

    Raises
    ------
    RecordError
        If an action belongs to no finding.
    """
    recorded = tuple(findings)
    known = [it.finding.topic for it in recorded]
    for topic in actions:
        if topic not in known:
            raise RecordError(
                f'There is no finding about "{topic}".',
                remedy=did_you_mean(topic, known),
            )
    return tuple(
        replace(it, done=actions.get(it.finding.topic, it.done)) for it in recorded
    )
