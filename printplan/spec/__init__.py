"""
What was asked, and what the master is: plain frozen values.

A wish is a `PrintSpec`; each of its parts has a module of its own.
"""

from printplan.spec.delivery import (
    Delivery,
    DeliverySpec,
    Extent,
    FileFormat,
    NamedSpace,
)
from printplan.spec.edges import CaptionPart, Marks, WhiteSpec, WrapSide, WrapSpec
from printplan.spec.master import AlphaRule, MasterFacts, MasterSpec
from printplan.spec.mount import NARROWEST_BOARD_MM, MatMargins, MountSpec, RoomSpec
from printplan.spec.picture import (
    BlackPointCompensation,
    ColourSpec,
    Intent,
    SharpenSpec,
    SizeRule,
    SizeSpec,
)
from printplan.spec.ranges import (
    FORMERLY,
    HIGHEST_PPI,
    LONGEST_MM,
    LOWEST_PPI,
    MOST_BLEED_MM,
    SHORTEST_MM,
    UNSAID,
    Kind,
    member,
)
from printplan.spec.sheet import Orientation, Placement, RollWay, SheetSpec
from printplan.spec.wish import PrintSpec

__all__ = [
    "FORMERLY",
    "HIGHEST_PPI",
    "LONGEST_MM",
    "LOWEST_PPI",
    "MOST_BLEED_MM",
    "NARROWEST_BOARD_MM",
    "SHORTEST_MM",
    "UNSAID",
    "AlphaRule",
    "BlackPointCompensation",
    "CaptionPart",
    "ColourSpec",
    "Delivery",
    "DeliverySpec",
    "Extent",
    "FileFormat",
    "Intent",
    "Kind",
    "Marks",
    "MasterFacts",
    "MasterSpec",
    "MatMargins",
    "MountSpec",
    "NamedSpace",
    "Orientation",
    "Placement",
    "PrintSpec",
    "RollWay",
    "RoomSpec",
    "SharpenSpec",
    "SheetSpec",
    "SizeRule",
    "SizeSpec",
    "WhiteSpec",
    "WrapSide",
    "WrapSpec",
    "member",
]
