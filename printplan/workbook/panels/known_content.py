"""What is known of the picture's content, without anybody waiting for it?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from printplan.pixels.picture_content import content_key, picture_content
from printplan.workbook.panels.newest import Newest

if TYPE_CHECKING:
    from collections.abc import Callable

    from printplan.errors import PrintPlanError
    from printplan.pixels.picture_content import ContentKey
    from printplan.pixels.sheet import Sheet
    from printplan.sharpness.content import ContentFacts
    from printplan.workbook.panels.newest import Holding


class KnownContent:
    """
    The content of the latest sheet, measured aside and kept while its pixels stay.

    Parameters
    ----------
    told : callable
        Called in the worker's thread when content is known, or cannot be.
    holding : callable
        As `Newest` takes it.

    Attributes
    ----------
    problem : PrintPlanError or None
        Why the content of the latest sheet cannot be measured.
    """

    def __init__(self, told: Callable[[], None], holding: Holding) -> None:
        self.problem: PrintPlanError | None = None
        self._told = told
        self._key: ContentKey | None = None
        self._facts: ContentFacts | None = None
        self._newest: Newest[tuple[ContentKey, ContentFacts]] = Newest(
            self._keep, self._refuse, holding
        )

    def of(self, sheet: Sheet) -> ContentFacts | None:
        """
        Content of a sheet, if it is known already.

        Parameters
        ----------
        sheet : Sheet

        Returns
        -------
        ContentFacts or None
            None while it is being measured, which begins when it is asked for, or if
            it cannot be; then `problem` says why.
        """
        key = content_key(sheet.plan)
        if key != self._key:
            self._key, self._facts, self.problem = key, None, None
            self._newest.do(lambda: (key, picture_content(sheet)))
        return self._facts

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until nothing is being measured.

        Parameters
        ----------
        timeout_s : float, optional

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._newest.settle(timeout_s)

    def _keep(self, measured: tuple[ContentKey, ContentFacts]) -> None:
        key, facts = measured
        if key == self._key:
            self._facts = facts
            self._told()

    def _refuse(self, problem: PrintPlanError) -> None:
        self.problem = problem
        self._told()
