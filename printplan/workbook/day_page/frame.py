"""How does the page fill the window, and learn that no kernel answers?"""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar

import anywidget

_HERE = Path(__file__).parent


class Frame(anywidget.AnyWidget):
    """
    A heartbeat between page and kernel, and the page's height and looks.

    It is seen only when the kernel does not answer: then it says so, and offers to
    start again where JupyterLab was opened by ``printplan open``.
    """

    _esm: ClassVar[Path] = _HERE / "frame.js"
    _css: ClassVar[Path] = _HERE / "day_page.css"

    def __init__(self) -> None:
        super().__init__()
        self.on_msg(self._answer)

    def _answer(self, _: object, message: dict[str, Any], __: object) -> None:
        if message.get("kind") == "beat":
            self.send({"kind": "beat", "number": message["number"]})
