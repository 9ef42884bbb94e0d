"""How is one of many photographs chosen by what it looks like?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import anywidget
import traitlets

from printplan.errors import PrintPlanError
from printplan.workbook.latest_only import LatestOnly
from printplan.workbook.thumbnails import thumbnail

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence


_HERE = Path(__file__).parent


class PictureList(anywidget.AnyWidget):
    """
    Things with their pictures, of which one is chosen.

    Parameters
    ----------
    label : str
        What is chosen among, for those who do not see it.
    form : str
        ``tiles`` or ``lines``.
    picked : callable
        Takes the key of what was picked, also if it is chosen already.
    acted : callable, optional
        Takes the key of what was pressed twice.

    Attributes
    ----------
    items : list of dict
        From `show`.
    value : str
        Key of what is chosen; empty if nothing is.
    problems : dict of str to PrintPlanError
        Why there is no picture, by the key.

    Notes
    -----
    The page asks for the pictures in sight; what is asked last goes before the rest.
    """

    _esm: ClassVar[Path] = _HERE / "picture_list.js"
    _css: ClassVar[Path] = _HERE / "picture_list.css"

    label = traitlets.Unicode().tag(sync=True)
    form = traitlets.Unicode().tag(sync=True)
    items: traitlets.List[dict[str, Any]] = traitlets.List().tag(sync=True)
    value = traitlets.Unicode().tag(sync=True)

    def __init__(
        self,
        label: str,
        *,
        form: str,
        picked: Callable[[str], None],
        acted: Callable[[str], None] = lambda _: None,
    ) -> None:
        self._picked, self._acted = picked, acted
        self._photographs: Mapping[str, Path] = {}
        self._asked = 0
        self.problems: dict[str, PrintPlanError] = {}
        self._work: LatestOnly[None] = LatestOnly(lambda _: None, lambda _: None)
        super().__init__(label=label, form=form)
        self.on_msg(self._on_message)

    def show(
        self, items: Sequence[tuple[str, str, str]], photographs: Mapping[str, Path]
    ) -> None:
        """
        Show other things.

        Parameters
        ----------
        items : sequence of (str, str, str)
            Key, name, and words below it.
        photographs : mapping of str to Path
            Which photograph a key stands for. A key without one is a folder if it ends
            in a slash, and else something that cannot be read.
        """
        self._photographs = dict(photographs)
        self.problems = {k: it for k, it in self.problems.items() if k in photographs}
        self.items = [
            {
                "key": key,
                "name": name,
                "words": words,
                "picture": key in photographs,
                "photograph": photographs[key].name if key in photographs else "",
                "sign": "folder" if key.endswith("/") else "unread",
            }
            for key, name, words in items
        ]
        if self.value not in {key for key, _, _ in items}:
            self.value = ""

    def settle(self, timeout_s: float = 60.0) -> bool:
        """
        Wait until all pictures that were asked for are sent.

        Returns
        -------
        bool
            Whether that was so in time.
        """
        return self._work.settle(timeout_s)

    def _on_message(self, _: Any, content: dict[str, Any], __: Any) -> None:
        event, key = content.get("event"), content.get("key")
        if event == "show":
            self._send_pictures(content.get("keys", []))
        elif event == "pick" and isinstance(key, str):
            self._picked(key)
        elif event == "act" and isinstance(key, str):
            self._acted(key)

    def _send_pictures(self, keys: Sequence[str]) -> None:
        self._asked += 1
        asked, photographs = self._asked, self._photographs
        # The smallest first: one that takes long keeps none of the others waiting.
        paths = [(key, photographs[key]) for key in keys if key in photographs]
        paths.sort(key=lambda it: _size(it[1]))

        def work() -> None:
            for key, path in paths:
                if asked != self._asked:
                    return  # what is asked now is in the new question
                try:
                    picture, words = [thumbnail(path)], ""
                except PrintPlanError as error:
                    self.problems[key] = error
                    picture, words = [], f"{error.problem} {error.remedy}"
                self.send({"event": "picture", "key": key, "words": words}, picture)

        self._work.do(work)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0
