"""What do the files and the pixels behind a sheet tell?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.checks.finding import by_severity
from printplan.checks.master_pixels import master_pixel_findings
from printplan.checks.picture import picture_findings
from printplan.checks.profile import profile_findings
from printplan.checks.rendering import rendering_findings
from printplan.checks.sharpness import sharpness_findings

if TYPE_CHECKING:
    from printplan.checks.finding import Decided, Finding
    from printplan.pixels.sheet import Sheet
    from printplan.sharpening.content import ContentFacts


def check_pixels(
    sheet: Sheet,
    *,
    decided: Decided | None = None,
    content: ContentFacts | None = None,
) -> list[Finding]:
    """
    What the files and the pixels behind a sheet tell.

    Parameters
    ----------
    decided : Decided, optional
        What the profile was when the print was decided, to tell a change.
    content : ContentFacts, optional
        Of `picture_content`, if it is at hand; otherwise it is measured once for all
        variations of a print, which takes two seconds.

    Returns
    -------
    list of Finding
        Gravest first; empty if there is nothing to say.

    Raises
    ------
    MasterError
        If the master was closed, or its file changed since it was opened.
    ProfileError
        If the paper's profile has no way to its device or back.

    Notes
    -----
    Shares of the picture are taken from an overview, halo and noise from windows of
    the print's own pixels, and what a reduction would hide (traces of enlarging, empty
    codes, blocks) from samples of the master's.
    """
    return by_severity(
        [
            *profile_findings(sheet, decided),
            *rendering_findings(sheet),
            *picture_findings(sheet),
            *master_pixel_findings(sheet, content),
            *sharpness_findings(sheet, content),
        ]
    )
