"""What is a rectangle, in pixels and millimetres, and what lies on its sides?"""

from __future__ import annotations

from dataclasses import dataclass

from printplan.units import LengthUnit, length_text, px_from_mm, whole_px


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of whole pixels; right and bottom are excluded."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """First column after the box."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """First row after the box."""
        return self.top + self.height

    def moved(self, right: int, down: int) -> Box:
        """
        The same rectangle elsewhere.

        Parameters
        ----------
        right, down : int
            Pixels to move by.
        """
        return Box(self.left + right, self.top + down, self.width, self.height)

    def common(self, other: Box) -> Box | None:
        """
        The part that two boxes share.

        Returns
        -------
        Box or None
            None if they share no pixel.
        """
        left, top = max(self.left, other.left), max(self.top, other.top)
        width = min(self.right, other.right) - left
        height = min(self.bottom, other.bottom) - top
        return Box(left, top, width, height) if width > 0 and height > 0 else None

    def grown(self, by: int, within: Box) -> Box:
        """
        The box and its surroundings, as far as another box reaches.

        Parameters
        ----------
        by : int
            Pixels added on each side.
        within : Box
            Holds the result; must hold this box too.
        """
        left, top = max(self.left - by, within.left), max(self.top - by, within.top)
        right = min(self.right + by, within.right)
        bottom = min(self.bottom + by, within.bottom)
        return Box(left, top, right - left, bottom - top)


@dataclass(frozen=True, slots=True)
class Edges:
    """A rectangle in millimetres from the sheet's left top corner."""

    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float

    @property
    def words(self) -> str:
        """Its edges."""
        return (
            f"left {self.left_mm:.1f}, top {self.top_mm:.1f}, right "
            f"{self.right_mm:.1f}, bottom {self.bottom_mm:.1f} mm"
        )

    def in_px(self, ppi: float) -> Box:
        """
        The rectangle in whole pixels, each edge rounded once.

        Returns
        -------
        Box
            Neighbours that share an edge in millimetres share it in pixels. No
            side is shorter than one pixel.
        """
        left, top, right, bottom = (
            whole_px(px_from_mm(edge, ppi))
            for edge in (self.left_mm, self.top_mm, self.right_mm, self.bottom_mm)
        )
        return Box(left, top, max(right - left, 1), max(bottom - top, 1))


@dataclass(frozen=True, slots=True)
class Sides:
    """One length on each side of something, as the picture is looked at."""

    left_mm: float = 0.0
    top_mm: float = 0.0
    right_mm: float = 0.0
    bottom_mm: float = 0.0

    @property
    def all_mm(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom."""
        return self.left_mm, self.top_mm, self.right_mm, self.bottom_mm

    @property
    def least_mm(self) -> float:
        """The shortest of the four."""
        return min(self.all_mm)

    def in_words(self, unit: LengthUnit = LengthUnit.MM) -> str:
        """
        All four, or one for all where they read alike.

        Examples
        --------
        >>> Sides(3, 3, 3, 3).in_words(), Sides(3, 3, 3, 25.4).in_words()
        ('3.0 mm on each side', 'left 3.0, top 3.0, right 3.0, foot 25.4 mm')
        """
        told = [length_text(it, unit) for it in self.all_mm]
        if len(set(told)) == 1:
            return f"{told[0]} {unit} on each side"
        names = ("left", "top", "right", "foot")
        each = ", ".join(f"{name} {it}" for name, it in zip(names, told, strict=True))
        return f"{each} {unit}"

    @property
    def positive(self) -> Sides:
        """The same with 0 for what is below it."""
        return Sides(*(max(it, 0.0) for it in self.all_mm))

    @property
    def across_mm(self) -> tuple[float, float]:
        """Left and right."""
        return self.left_mm, self.right_mm

    @property
    def down_mm(self) -> tuple[float, float]:
        """Top and bottom."""
        return self.top_mm, self.bottom_mm
