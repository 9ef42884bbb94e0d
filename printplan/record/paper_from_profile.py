"""How does a paper come into the book with nothing but its profile?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from printplan.colour.profile_gate import require_output_profile
from printplan.colour.profile_quality import profile_quality
from printplan.colour.profiles import open_profile
from printplan.errors import ProfileError, RecordError, writing_remedy
from printplan.foreign_file import read_foreign
from printplan.free_name import free_path, give_free_name
from printplan.own_folders import expanded
from printplan.record.atomic_write import part_beside
from printplan.record.book_changes import add_paper, change_paper
from printplan.record.paper_book import only_in_use
from printplan.record.paper_proposal import propose_paper
from printplan.record.studio_folder import PROFILES_FOLDER

if TYPE_CHECKING:
    from printplan.colour.profile_quality import ProfileQuality
    from printplan.colour.profiles import Profile
    from printplan.media import Paper, PaperOnPrinter, Printer
    from printplan.record.paper_book import PaperBook
    from printplan.record.paper_proposal import PaperProposal, PaperWish

_MOST_NAMES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedProfile:
    """
    A profile that can serve a paper on a printer.

    Attributes
    ----------
    path : Path
        Where it was found, absolute.
    """

    path: Path
    profile: Profile
    quality: ProfileQuality
    printer: Printer


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedPaper:
    """
    What was written into the book.

    Attributes
    ----------
    paper : Paper
        As the book now holds it.
    setup : PaperOnPrinter
        What is new in it.
    profile : Path
        The profile that it uses: the one given, or its copy beside the book.
    was_copied : bool
        Whether that copy was made now.
    is_new_paper : bool
        False if the book had the paper and has another setup of it now.
    """

    paper: Paper
    setup: PaperOnPrinter
    profile: Path
    was_copied: bool
    is_new_paper: bool


def printer_for_paper(book: PaperBook, name: str | None = None) -> Printer:
    """
    The printer that a paper is set up for.

    Parameters
    ----------
    name : str, optional
        In the book; the only one in use if not given.

    Raises
    ------
    RecordError
        If the book has no such printer, or none is named where that is needed.
    """
    if name is not None:
        return book.printer(name)
    return only_in_use(
        "printer",
        book.printers,
        remedy="Name the printer that the profile was made for.",
    )


def judge_profile(path: str | Path, printer: Printer) -> JudgedProfile:
    """
    Open a profile and judge whether and how well it serves a printer.

    Parameters
    ----------
    path : str or Path
        Its file.

    Raises
    ------
    ProfileError
        If it is no output profile, is damaged, or is for other colours than the
        printer's driver takes. Grey suits every driver: it is sent as equal red,
        green and blue, or as black alone.
    """
    path = expanded(path).absolute()
    profile = require_output_profile(open_profile(path))
    takes = printer.driver_colour
    if profile.space not in {takes.value, "GRAY"}:
        raise ProfileError(
            f"The profile {profile.name!r} is for {profile.space}; the driver of "
            f"{printer.name} takes {takes}.",
            remedy=f"Choose a profile for {takes} that was made for this printer, or "
            f"the printer whose driver takes {profile.space}.",
        )
    return JudgedProfile(
        path=path, profile=profile, quality=profile_quality(profile), printer=printer
    )


def propose_from(
    judged: JudgedProfile, book: PaperBook, wish: PaperWish | None = None
) -> PaperProposal:
    """
    The paper of a profile as it would be written; see `propose_paper`.

    Raises
    ------
    SpecError
        As `propose_paper` raises it.
    """
    return propose_paper(
        judged.quality,
        judged.printer,
        wish,
        papers=book.papers,
        file_stem=judged.path.stem,
    )


def add_from_profile(
    book_path: str | Path, judged: JudgedProfile, proposal: PaperProposal
) -> AddedPaper:
    """
    Write a paper, or another setup of one, into the book; its comments stay.

    Parameters
    ----------
    book_path : str or Path
        The paper book. A profile that does not lie below its folder is copied into
        `PROFILES_FOLDER` there, so that the studio can move.

    Returns
    -------
    AddedPaper

    Raises
    ------
    ProfileError
        If the profile is not the one that was judged any more.
    RecordError, SpecError
        If the book has such a setup, or cannot be written; nothing is left behind.
    """
    if open_profile(judged.path).sha256 != judged.profile.sha256:
        raise ProfileError(
            f"The profile {judged.path} was changed since it was looked at.",
            remedy="Choose it again.",
        )
    _require_new(judged, proposal)
    folder = Path(book_path).absolute().parent
    profile, was_copied = _beside(folder, judged)
    sha256, printer = judged.profile.sha256, judged.printer
    try:
        if proposal.known is None:
            new = proposal.paper(printer, str(profile), sha256)
            setup = new.on_printer[0]
            paper = add_paper(book_path, new)
        else:
            setup = proposal.setup_on(printer, str(profile), sha256)
            paper = change_paper(
                book_path,
                proposal.known.name,
                lambda old: replace(old, on_printer=(*old.on_printer, setup)),
            )
    except BaseException:
        if was_copied:
            profile.unlink(missing_ok=True)
        raise
    return AddedPaper(
        paper=paper,
        setup=setup,
        profile=profile,
        was_copied=was_copied,
        is_new_paper=proposal.known is None,
    )


def _require_new(judged: JudgedProfile, proposal: PaperProposal) -> None:
    """Refuse a setup that the book has, profile, ink and all."""
    if proposal.known is None:
        return
    new = proposal.setup_on(judged.printer, str(judged.path), judged.profile.sha256)
    for old in proposal.known.on_printer:
        if _Alike.of(old) == _Alike.of(new):
            raise RecordError(
                f'The paper book has "{proposal.known.name}" on {old.words} with this '
                "very profile already.",
                remedy="Give a black ink, quality or media type that differs, or "
                "another name for another paper.",
            )


class _Alike(NamedTuple):
    """What tells one setup from another, but for its name."""

    printer: str
    profile_sha256: str
    black_ink: str
    media_type: str
    quality: str

    @classmethod
    def of(cls, setup: PaperOnPrinter) -> _Alike:
        return cls(*(getattr(setup, name) for name in cls._fields))


def _holds(path: Path, data: bytes) -> bool:
    """Whether a file is there and holds just that."""
    try:
        return data == read_foreign(path, raises=RecordError, most_bytes=len(data))
    except RecordError:
        return False


def _beside(folder: Path, judged: JudgedProfile) -> tuple[Path, bool]:
    """Where the book finds the profile, and whether a copy was made for that."""
    whole = judged.path.resolve()
    if whole.is_relative_to(folder.resolve()):
        return judged.path, False
    kept = folder / PROFILES_FOLDER
    there = kept / whole.name
    if _holds(there, judged.profile.data):
        return there, False
    try:
        kept.mkdir(exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"{kept} cannot be made ({error.strerror}).",
            remedy=writing_remedy(error),
        ) from error
    for _ in range(_MOST_NAMES):
        target = free_path(there)
        remedy = "Try again; another program took the name."
        with part_beside(target, if_exists=remedy) as part:
            part.write_bytes(judged.profile.data)
            try:
                give_free_name(part, target)
            except FileExistsError:
                continue
        return target, True
    raise RecordError(
        f"No name is free in {kept}.", remedy="Clear it up, and try again."
    )
