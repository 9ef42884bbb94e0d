"""What do the controls of all panels look like?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

if TYPE_CHECKING:
    from collections.abc import Sequence

CONTROL = {
    "style": {"description_width": "112px"},
    "layout": {"width": "auto", "margin": "2px 4px 2px 0"},
}


def acts(*buttons: widgets.Button) -> widgets.HBox:
    """
    Buttons in a row, below the fields and not below their labels.

    Parameters
    ----------
    buttons : Button

    Returns
    -------
    HBox
    """
    for button in buttons:
        button.layout.width = "auto"
        button.layout.margin = "2px 6px 2px 0"
    return widgets.HBox(buttons, layout={"margin": "0 0 4px 120px"})


def plain_row(*buttons: widgets.Button) -> widgets.HBox:
    """
    Buttons in a row, in line with words.

    Parameters
    ----------
    buttons : Button

    Returns
    -------
    HBox
    """
    row = acts(*buttons)
    row.layout.margin = "4px"
    return row


def choice(label: str, options: Sequence[tuple[str, Any]]) -> widgets.Dropdown:
    """
    One of a few things, from a list.

    Parameters
    ----------
    label : str
    options : sequence of (str, object)
        Words and what they mean.

    Returns
    -------
    Dropdown
    """
    return widgets.Dropdown(description=label, options=options, **CONTROL)


def switch(label: str, options: Sequence[tuple[str, Any]]) -> widgets.ToggleButtons:
    """
    One of two or three things, all in sight.

    Parameters
    ----------
    label : str
    options : sequence of (str, object)
        Words and what they mean.

    Returns
    -------
    ToggleButtons
    """
    return widgets.ToggleButtons(
        description=label,
        options=options,
        style=CONTROL["style"] | {"button_width": "auto"},
        layout=CONTROL["layout"],
    )


def choose(control: widgets.Dropdown, value: Any) -> None:
    """
    Choose something, adding it to what is offered if need be.

    Parameters
    ----------
    control : Dropdown
    value : object
    """
    if value not in [it for _, it in control.options]:
        control.options = [*control.options, (str(value), value)]
    control.value = value


def show_if(condition: bool, *controls: widgets.Widget) -> None:  # noqa: FBT001 - reads as its name
    """
    Show controls that matter, hide those that do not.

    Parameters
    ----------
    condition : bool
    controls : Widget
    """
    for control in controls:
        control.layout.display = None if condition else "none"
