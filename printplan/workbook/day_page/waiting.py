"""How does a person hear that the page waits for another program?"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from printplan.record.lock_file import WAITING
from printplan.shown_text import escape
from printplan.workbook.page_thread import page_thread
from printplan.workbook.panels.controls import text

if TYPE_CHECKING:
    import ipywidgets as widgets


class WaitingWords(logging.Handler):
    """
    Words that say what is waited for, and by whom it is held; empty else.

    Attributes
    ----------
    place : ipywidgets.HTML
        Where they stand. The words of an earlier page of this kernel are told no more.
    """

    def __init__(self) -> None:
        super().__init__(logging.INFO)
        self.place: widgets.HTML = text()
        self._page = page_thread()
        for earlier in [it for it in WAITING.handlers if isinstance(it, WaitingWords)]:
            WAITING.removeHandler(earlier)
        WAITING.addHandler(self)
        WAITING.setLevel(logging.INFO)

    def emit(self, record: logging.LogRecord) -> None:
        """Show what was told."""
        words = escape(record.getMessage())
        told = f'<div role="status">{words}</div>' if words else ""
        self._page.do(lambda: setattr(self.place, "value", told))
