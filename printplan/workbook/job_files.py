"""Which files does the bench work from, and how does it keep what was decided?"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Self

from printplan.free_name import free_path
from printplan.record.atomic_write import read_text
from printplan.record.plan_file import (
    PlanFile,
    parse_plan_text,
    plan_file_text,
    save_plan,
    with_kernel_path,
    write_plan_file,
)
from printplan.record.studio_folder import path_in_studio
from printplan.spec import MasterSpec, NamedSpace

if TYPE_CHECKING:
    from printplan.plan import PrintPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFiles:
    """
    The plan file of a job as it was last read or kept, and what lies beside it.

    Attributes
    ----------
    plan_path : Path
        Absolute.
    text : str
        What the plan file held when it was read or kept here.
    wish : PlanFile
        The same, with its paths as written.
    whole_wish : PlanFile
        The same with whole paths, without steps up and down in them.
    is_written : bool
        Whether there is such a plan file; a new job has none before it is kept.
    """

    plan_path: Path
    text: str
    wish: PlanFile
    whole_wish: PlanFile = field(init=False, repr=False, compare=False)
    is_written: bool = True

    def __post_init__(self) -> None:
        """Find the whole paths once: every move of a control asks for one."""
        whole = self.wish.resolved(self.plan_path)
        master = replace(whole.master, file=_plain(whole.master.file))
        whole = replace(whole, master=master, book=_plain(whole.book))
        object.__setattr__(self, "whole_wish", whole)

    @classmethod
    def read(cls, plan_path: str | Path) -> Self:
        """
        Read the plan file of a job.

        Raises
        ------
        RecordError
            If it cannot be read or is not a plan.
        SpecError
            If what it asks contradicts itself or leaves its range.
        """
        path = Path(plan_path).absolute()
        text = read_text(path)
        return cls(
            plan_path=path, text=text, wish=parse_plan_text(text, where=str(path))
        )

    @property
    def book_path(self) -> Path:
        """The paper book."""
        return Path(self.whole_wish.book)

    def begun_for(self, plan: PrintPlan, master: MasterSpec) -> JobFiles:
        """
        Files of a new job in the same folder: another photograph, by its own name.

        Returns
        -------
        JobFiles
            Not written yet, and without the note of the job before.
        """
        folder = self.plan_path.parent
        path = free_path(folder / f"{Path(master.file).stem}-print.toml")
        wish = replace(self._told(plan, master, folder), note="")
        return JobFiles(plan_path=path, text="", wish=wish, is_written=False)

    def keep(
        self, plan: PrintPlan, master: MasterSpec, note: str | None = None
    ) -> JobFiles:
        """
        Write a plan over the job's own, if that is still as it was read.

        Parameters
        ----------
        master : MasterSpec
            With whole paths.
        note : str, optional
            The plan's; as it was if not given.

        Returns
        -------
        JobFiles
            As the plan file is now.

        Raises
        ------
        RecordError
            If another program changed it, or it cannot be written.
        """
        if not self.is_written:
            return self.keep_as(self.plan_path, plan, master, note)
        wish = self._told(plan, master, self.plan_path.parent, note)
        text = save_plan(wish, self.plan_path, as_read=self.text)
        return replace(self, text=text, wish=wish)

    def keep_as(
        self,
        path: str | Path,
        plan: PrintPlan,
        master: MasterSpec,
        note: str | None = None,
    ) -> JobFiles:
        """
        Write a plan into a new file, which is the job's from then on.

        Parameters
        ----------
        path : str or Path
            Relative paths begin beside the job's present plan file.
        master : MasterSpec
            With whole paths.

        Raises
        ------
        RecordError
            If there is such a file, or it cannot be written.
        """
        target = self.plan_path.parent / path
        wish = replace(
            self._told(plan, master, target.parent, note),
            book=self._near(str(self.book_path), target.parent),
        )
        write_plan_file(wish, target)
        return JobFiles(plan_path=target, text=plan_file_text(wish), wish=wish)

    def _told(
        self,
        plan: PrintPlan,
        master: MasterSpec,
        folder: Path,
        note: str | None = None,
    ) -> PlanFile:
        """What the plan file is to say, from a folder."""
        written = self.wish.master
        same = folder == self.plan_path.parent and self.whole_wish.master == master
        if not same:
            assumed = master.assume_profile
            if assumed and assumed not in set(NamedSpace):
                assumed = self._near(assumed, folder)
            written = replace(
                master, file=self._near(master.file, folder), assume_profile=assumed
            )
        kernel = plan.spec.sharpen.kernel
        there = self.whole_wish.spec.sharpen.kernel == kernel
        here = there and folder == self.plan_path.parent
        spec = with_kernel_path(
            plan.spec,
            lambda it: (
                self.wish.spec.sharpen.kernel if here else self._near(it, folder)
            ),
        )
        return replace(
            self.wish,
            master=written,
            paper=plan.paper.name,
            printer=plan.printer.name,
            spec=spec,
            note=self.wish.note if note is None else note,
        )

    def _near(self, whole: str, folder: Path) -> str:
        """A path from a folder if it lies in the studio, so that both can move."""
        return path_in_studio(whole, folder, self.book_path.parent)


def _plain(path: str) -> str:
    return str(Path(path).resolve()) if ".." in Path(path).parts else path
