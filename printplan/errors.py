"""What can go wrong, each with what to do about it."""

from __future__ import annotations


class PrintPlanError(Exception):
    """
    A print that cannot be made as asked.

    Parameters
    ----------
    problem : str
        What is wrong, with the measured number and its limit.
    remedy : str
        What to do: a setting and a value that works.
    """

    def __init__(self, problem: str, *, remedy: str) -> None:
        super().__init__(problem, remedy)
        self.problem = problem
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.problem} {self.remedy}"

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.problem, self.remedy))


def _rebuild(kind: type[PrintPlanError], problem: str, remedy: str) -> PrintPlanError:
    """Unpickle an error: its remedy is a keyword, which pickle alone would lose."""
    return kind(problem, remedy=remedy)


class SpecError(PrintPlanError, ValueError):
    """A wish that contradicts itself or leaves its range."""


class FitError(SpecError):
    """A picture that does not go on the sheet."""


class MasterError(PrintPlanError):
    """A master that cannot be read as a finished photograph."""


class ProfileError(PrintPlanError):
    """A colour profile that is missing, damaged or of the wrong kind."""


class RenderError(PrintPlanError):
    """A file that could not be written, or did not read back as written."""


class RecordError(PrintPlanError):
    """A plan file, paper book or record that cannot be read or kept."""
