"""Where on the page is that which a remedy asks for?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from printplan.errors import Setting

if TYPE_CHECKING:
    from printplan.errors import PrintPlanError


CONTROLS: Final = {
    Setting.ASSUME_PROFILE: "its colours are",
    Setting.ALPHA: "transparency",
    Setting.MASTER: "master",
    Setting.SCAN_PPI: "scanned at (ppi)",
    Setting.EDGES_LEFT_OUT: "some edges were left out: write it all the same",
}
"""Label of the control for a setting.

The others have none: no panel writes over a file that is there.
"""


def remedy_words(error: PrintPlanError) -> str:
    """
    What to do about an error, with the label of the control that does it.

    Returns
    -------
    str
        One sentence or two.
    """
    label = None if error.setting is None else CONTROLS.get(error.setting)
    return error.remedy if label is None else f'{error.remedy} On this page: "{label}".'
