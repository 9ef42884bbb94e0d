"""What should be known before ink is spent? Findings, never exceptions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import Decided as Decided
from printplan.checks.finding import Finding as Finding
from printplan.checks.finding import Level as Level
from printplan.checks.of_plan import check_plan as check_plan

if TYPE_CHECKING:
    from printplan.checks.of_pixels import check_pixels as check_pixels


def __getattr__(name: str) -> object:
    # Plans are checked without the libraries of pixels.
    if name == "check_pixels":
        from printplan.checks.of_pixels import check_pixels  # noqa: PLC0415

        return check_pixels
    raise AttributeError(f"module 'printplan.checks' has no attribute {name!r}")
