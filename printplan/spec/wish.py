"""What is asked of one print, all together?"""

from __future__ import annotations

from dataclasses import dataclass, field

from printplan.errors import SpecError
from printplan.spec.delivery import DeliverySpec
from printplan.spec.edges import WhiteSpec, WrapSpec
from printplan.spec.mount import MountSpec, RoomSpec
from printplan.spec.picture import ColourSpec, SharpenSpec, SizeSpec
from printplan.spec.ranges import UNSAID
from printplan.spec.sheet import SheetSpec  # noqa: TC001 - its hint is read
from printplan.units import LengthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintSpec:
    """
    All that the photographer asked of one print.

    Attributes
    ----------
    lengths_in : LengthUnit
        Unit that the lengths were asked in, and are answered in. It changes no pixel.
    setup : str
        Which of the paper's setups on this printer; empty for the first in use.
    """

    size: SizeSpec
    sheet: SheetSpec
    sharpen: SharpenSpec = field(default_factory=SharpenSpec)
    colour: ColourSpec = field(default_factory=ColourSpec)
    mount: MountSpec = field(default_factory=MountSpec)
    wrap: WrapSpec = field(default_factory=WrapSpec, metadata={UNSAID: True})
    white: WhiteSpec = field(default_factory=WhiteSpec, metadata={UNSAID: True})
    room: RoomSpec = field(default_factory=RoomSpec)
    delivery: DeliverySpec = field(default_factory=DeliverySpec)
    lengths_in: LengthUnit = LengthUnit.MM
    setup: str = field(default="", metadata={UNSAID: True})

    def __post_init__(self) -> None:
        if self.wrap.is_wrapped and self.mount.wrap_mm > 0:
            raise SpecError(
                f"The picture's own edges go {self.mount.wrap_mm:g} mm round a bar, "
                f"and sides are added for a bar {self.wrap.bar_depth_mm:g} mm deep.",
                remedy="Choose one of the two: sides within the picture, or added.",
            )
