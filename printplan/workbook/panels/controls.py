"""What do the controls of all panels look like, to the eye and to a screen reader?"""

from __future__ import annotations

from functools import partial
from math import floor
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, TypeAlias

import anywidget
import ipywidgets as widgets
import traitlets

from printplan.units import LengthUnit, in_unit, mm_from_inches
from printplan.workbook.pictures import SURROUND

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    Control: TypeAlias = "widgets.Widget | Slider | LengthSlider"


_HERE = Path(__file__).parent


class Accessibility(anywidget.AnyWidget):
    """
    Accessible names, values and keys for the other controls of a panel.

    It is not seen itself. It names slider handles by their labels and gives their
    values with units, marks switches as pressed or not, gives pictures their
    descriptions, lets fold-outs be opened by key, and keeps the notebook from taking
    keys that are meant for a control. It touches nothing outside its own panel.

    Parameters
    ----------
    title : str
        What the panel is called.

    Attributes
    ----------
    described : dict of str to str
        Description of each picture by its mark.
    otherwise : str
        Description of all other pictures.
    tips : dict of str to str
        What each control is for, by its mark; see `explain`.
    stage_px : int
        Width of the panel's stage on the page, as the browser tells it; 0 before.

    Notes
    -----
    Stock controls (ipywidgets 8.1) have none of this; a key pressed on one reaches
    the notebook's own shortcuts, which move the cell selection or insert cells.
    """

    _esm: ClassVar[Path] = _HERE / "accessibility.js"
    _css: ClassVar[str] = (
        (_HERE / "panel.css")
        .read_text(encoding="utf-8")
        .replace("$surround", f"rgb{SURROUND}")
    )

    title = traitlets.Unicode().tag(sync=True)
    described = traitlets.Dict().tag(sync=True)
    otherwise = traitlets.Unicode().tag(sync=True)
    tips = traitlets.Dict().tag(sync=True)
    stage_px = traitlets.Int(0).tag(sync=True)

    def __init__(self, title: str) -> None:
        super().__init__(title=title, otherwise=title)

    def describe(self, picture: widgets.Image, words: str) -> None:
        """Say what a picture shows, for those who do not see it."""
        mark = f"printplan-picture-{picture.model_id}"
        if mark not in self.described:
            picture.add_class(mark)
        if self.described.get(mark) != words:
            self.described = self.described | {mark: words}

    def explain(self, ui: widgets.Widget) -> None:
        """Say what the controls in a part of the panel are for: their ``tooltip``."""
        tips: dict[str, str] = {}
        for part in parts_of(ui):
            words = getattr(part, "tooltip", None)
            if words and not isinstance(part, widgets.Button):  # which shows it itself
                mark = f"printplan-tip-{part.model_id}"
                part.add_class(mark)
                tips[mark] = words
        if tips != self.tips:
            self.tips = tips


def parts_of(ui: widgets.Widget) -> Iterator[Any]:
    """A part of the page, and all that is in it."""
    parts: list[Any] = [ui]
    while parts:
        part = parts.pop()
        parts.extend(getattr(part, "children", ()))
        yield part


CONTROL = {
    "style": {"description_width": "136px"},
    "layout": {"width": "auto", "margin": "2px 4px 2px 0"},
}

LONG_LABEL = {"description_width": "168px"}


def text(style: str = "printplan-words") -> widgets.HTML:
    """A place for words."""
    place = widgets.HTML()
    place.add_class(style)
    return place


def line(label: str, **more: Any) -> widgets.Text:
    """A line to type in; what is typed counts once it is finished."""
    return widgets.Text(description=label, continuous_update=False, **(CONTROL | more))


def acts(*buttons: widgets.Button) -> widgets.HBox:
    """Buttons in a row, below the fields and not below their labels."""
    for button in buttons:
        button.layout.width = "auto"
        button.layout.margin = "2px 6px 2px 0"
    return widgets.HBox(buttons, layout={"margin": "0 0 4px 144px"})


def plain_row(*buttons: widgets.Button) -> widgets.HBox:
    """Buttons in a row, in line with words."""
    row = acts(*buttons)
    row.layout.margin = "4px"
    return row


def choice(label: str, options: Sequence[tuple[str, Any]]) -> widgets.Dropdown:
    """
    One of a few things, from a list.

    Parameters
    ----------
    options : sequence of (str, object)
        Words and what they mean.
    """
    return widgets.Dropdown(description=label, options=options, **CONTROL)


def switch(label: str, options: Sequence[tuple[str, Any]]) -> widgets.ToggleButtons:
    """
    One of two or three things, all in sight.

    Parameters
    ----------
    options : sequence of (str, object)
        Words and what they mean.
    """
    return widgets.ToggleButtons(
        description=label,
        options=options,
        style=CONTROL["style"] | {"button_width": "auto"},
        layout=CONTROL["layout"],
    )


def choose(control: widgets.Dropdown, value: Any) -> None:
    """Choose something, adding it to what is offered if need be."""
    if value not in [it for _, it in control.options]:
        control.options = [*control.options, (str(value), value)]
    control.value = value


def offer(
    control: widgets.Dropdown, options: Sequence[tuple[str, Any]], chosen: Any
) -> None:
    """Offer other things; what is chosen stays if it is among them, else the first."""
    if list(control.options) != list(options):
        control.options = options
    values = [value for _, value in options]
    if chosen in values:
        control.value = chosen
    elif values:
        control.value = values[0]


def ui_of(control: Control) -> widgets.Widget:
    """What of a control is on the page."""
    if isinstance(control, LengthSlider):
        return control.box
    return control.ui if isinstance(control, Slider) else control


def when_changed(control: Control, act: Callable[..., None]) -> None:
    """Do something whenever the user, or the panel, sets a control."""
    if isinstance(control, Slider | LengthSlider):
        control.on_move(act)
    else:
        control.observe(act, names="value")


def show_if(condition: bool, *controls: Control) -> None:  # noqa: FBT001 - reads as its name
    """Show controls that matter, hide those that do not."""
    for control in map(ui_of, controls):
        control.layout.display = None if condition else "none"


class _RangeBeforeValue(widgets.FloatSlider):  # type: ignore[misc]
    """
    A stock slider that tells the page its range before its value.

    The page takes what is in one message one by one. A value beyond the range that is
    not there yet is clamped, and sent back as if it had been chosen; ipywidgets 8.1
    gives the order of a ``set``, another in each process.
    """

    def get_state(self, *args: Any, **kwargs: Any) -> dict[str, Any]:
        """State of these names, or of all."""
        state: dict[str, Any] = super().get_state(*args, **kwargs)
        if "value" in state:
            state["value"] = state.pop("value")
        return state


_SAME_STEP = 1e-3
"""Share of a step below which a slider has not been moved."""


class Slider:
    """
    A number that stays as it was given until the user moves it.

    A browser's slider stands on whole steps inside its range, and reports where it
    stands. So it is shown the nearest step, range and number reach it in one message,
    and only a move to another step is taken.

    Parameters
    ----------
    low, high : float
        Range; a number outside it widens it.
    digits : int, optional
        Decimals that are read out.

    Attributes
    ----------
    value : float
        Not rounded to a step.
    """

    def __init__(
        self, label: str, low: float, high: float, step: float, *, digits: int = 2
    ) -> None:
        self.value = low
        self.ui = _RangeBeforeValue(
            description=label,
            value=low,
            min=low,
            max=high,
            step=step,
            readout_format=f".{digits}f",
            **CONTROL,
        )
        self._low, self._high = low, high
        self._shown = low
        self._moved: Callable[[], None] | None = None
        self.ui.observe(self._on_value, names="value")

    def on_move(self, moved: Callable[[], None]) -> None:
        """Be told when the user moves it."""
        self._moved = moved

    def show(self, value: float, *, high: float | None = None) -> None:
        """
        Set the number without telling anybody.

        Parameters
        ----------
        high : float, optional
            New end of the range.
        """
        self._high = self._high if high is None else high
        low, high = min(self._low, value), max(self._high, value)
        steps = round((value - low) / self.ui.step)
        self.value = value
        shown = min(low + steps * self.ui.step, high)
        # What the browser stands on already is not sent back: it would arrive late and
        # undo the steps that were taken meanwhile.
        if abs(self.ui.value - shown) <= _SAME_STEP * self.ui.step:
            shown = self.ui.value
        self._shown = shown
        with self.ui.hold_sync(), self.ui.hold_trait_notifications():
            self.ui.min, self.ui.max, self.ui.value = low, high, self._shown

    def _on_value(self, change: dict[str, float]) -> None:
        if abs(change["new"] - self._shown) > _SAME_STEP * self.ui.step:
            self._take(change["new"])

    def _take(self, value: float) -> None:
        self.value = self._shown = value
        if self._moved is not None:
            self._moved()


class LengthSlider:
    """
    A length that is moved in millimetres or inches and kept in millimetres.

    There is a slider for each unit, and one of them is seen. A number that comes from
    the browser does not say its unit: on a single slider, a move in millimetres that
    arrives after the unit was changed would be read as inches.

    Parameters
    ----------
    low_mm, high_mm : float
        Range; a length outside it widens it.
    step_mm : float, optional
        A tenth of it is the step in inches.
    digits : int, optional
        Shown of millimetres; inches have one more.

    Attributes
    ----------
    value_mm : float
        Not rounded to a step.
    box : ipywidgets.VBox
        What is on the page.
    """

    def __init__(
        self,
        label: str,
        low_mm: float,
        high_mm: float,
        *,
        step_mm: float = 0.5,
        digits: int = 1,
    ) -> None:
        self.value_mm = low_mm
        self._high_mm = high_mm
        self._unit = LengthUnit.MM
        self._sliders: dict[LengthUnit, Slider] = {}
        for unit in LengthUnit:
            inches = unit is LengthUnit.INCHES
            step = step_mm / 10 if inches else step_mm
            self._sliders[unit] = Slider(
                f"{label} ({unit})",
                # Begin on a whole step, so that every step is a round number.
                floor(in_unit(low_mm, unit) / step) * step,
                in_unit(high_mm, unit),
                step,
                digits=digits + inches,
            )
        self.box = widgets.VBox([it.ui for it in self._sliders.values()])
        self._show_one()

    @property
    def ui(self) -> widgets.FloatSlider:
        """The slider that is seen."""
        return self._sliders[self._unit].ui

    def on_move(self, moved: Callable[[], None]) -> None:
        """Be told when the user moves it."""
        for unit, slider in self._sliders.items():
            slider.on_move(partial(self._take, unit, moved))

    def show_length(
        self, value_mm: float, unit: LengthUnit, *, high_mm: float | None = None
    ) -> None:
        """
        Set the length, its unit and its range without telling anybody.

        Parameters
        ----------
        high_mm : float, optional
            New end of the range.
        """
        self.value_mm = value_mm
        self._high_mm = self._high_mm if high_mm is None else high_mm
        if unit is not self._unit:
            self._unit = unit
            self._show_one()
        self._sliders[unit].show(
            in_unit(value_mm, unit), high=in_unit(self._high_mm, unit)
        )

    def _show_one(self) -> None:
        for unit, slider in self._sliders.items():
            show_if(unit is self._unit, slider)

    def _take(self, unit: LengthUnit, moved: Callable[[], None]) -> None:
        value = self._sliders[unit].value
        inches = unit is LengthUnit.INCHES
        self.value_mm = mm_from_inches(value) if inches else value
        moved()
