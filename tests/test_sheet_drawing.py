"""The drawing of a sheet is to scale, and says which edge enters the printer first."""

from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from printplan.record.decision_sheet.sheet_drawing import draw_sheet
from printplan.spec import Delivery, NamedSpace


@pytest.fixture
def plan(plan_for, master_of):
    """120 × 80 mm in the middle of A3, whose sides are 297 and 420 mm (ISO 216)."""
    return plan_for(master_of(np.full((80, 120, 3), 30000, np.uint16)))


def parts_of(plan):
    drawing = draw_sheet(plan, b"", width_mm=100, height_mm=80)
    return list(ET.fromstring(drawing.svg).iter())  # noqa: S314 - our own


def edges_of(parts, kind):
    (part,) = (it for it in parts if it.get("class") == kind)
    left, top, width, height = (
        float(part.get(it)) for it in ("x", "y", "width", "height")
    )
    return np.array([left, top, left + width, top + height])


def test_paper_and_picture_are_to_scale(plan):
    parts = parts_of(plan)
    paper, picture = edges_of(parts, "paper"), edges_of(parts, "picture")
    sheet, printed = (
        np.array([it.left_mm, it.top_mm, it.right_mm, it.bottom_mm])
        for it in (plan.layout.sheet, plan.layout.picture)
    )
    assert sorted(sheet[2:]) == [297.0, 420.0]
    scale = (paper[2] - paper[0]) / sheet[2]
    assert 0.1 < scale < 0.34  # 100 mm for 297 at most
    drawn = paper[[0, 1, 0, 1]] + scale * printed
    assert picture == pytest.approx(drawn, abs=0.02)
    assert paper[3] - paper[1] == pytest.approx(scale * sheet[3], abs=0.02)


def test_arrow_is_outside_the_edge_that_goes_in_first(plan):
    (arrow,) = (it for it in parts_of(plan) if it.get("class") == "arrow")
    assert arrow.get("d").startswith("M")
    delivery = replace(
        plan.delivery, colour=Delivery.NAMED_SPACE, named_space=NamedSpace.SRGB
    )
    by_service = replace(plan, spec=replace(plan.spec, delivery=delivery))
    assert by_service.delivery.colour is Delivery.NAMED_SPACE
    assert [it for it in parts_of(by_service) if it.get("class") == "arrow"] == []
