"""How does the decision sheet come onto the disk, as HTML or PDF?"""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

from printplan.pixels.own_files import OwnFile
from printplan.record.decision_sheet.pdf_sheet import PageSize, pdf_sheet
from printplan.record.decision_sheet.sheet_drawing import data_uri
from printplan.record.page_file import require_page_file, write_page_file
from printplan.shown_text import visible

if TYPE_CHECKING:
    from pathlib import Path

    from printplan.record.decision_sheet.facts import DecisionFacts


_TEMPLATE = "page.html.jinja"


def html_page(facts: DecisionFacts) -> str:
    """
    The decision sheet as one HTML file.

    Returns
    -------
    str
        It asks for no other file and no network, and prints on A4 or Letter.
    """
    from jinja2 import Environment, StrictUndefined  # noqa: PLC0415 - 0.1 s to load
    from markupsafe import Markup  # noqa: PLC0415 - comes with it

    def shown(value: object) -> object:
        """Text of others; what a macro made of it is shown already, and has lines."""
        if isinstance(value, Markup) or not isinstance(value, str):
            return value
        return visible(value)

    environment = Environment(
        autoescape=True,
        finalize=shown,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["data_uri"] = data_uri
    text = files(__package__).joinpath(_TEMPLATE).read_text(encoding="utf-8")
    return environment.from_string(text).render(facts=facts)


HTML_ENDINGS = (".html", ".htm")
PDF_ENDING = ".pdf"
_ENDINGS = (*HTML_ENDINGS, PDF_ENDING)


def write_decision_sheet(
    facts: DecisionFacts,
    path: str | Path,
    *,
    page: PageSize = PageSize.A4,
    overwrite: bool = False,
) -> Path:
    """
    Write the decision sheet as HTML or as one page of PDF.

    Parameters
    ----------
    path : str or Path
        Its ending decides: ``.html`` or ``.pdf``.
    page : PageSize, optional
        Of the PDF; HTML prints on either.
    overwrite : bool, optional
        Permits a decision sheet of that name to be replaced that nobody changed since
        it was written, and no other file.

    Returns
    -------
    Path
        The file, absolute.

    Raises
    ------
    RecordError
        If the ending is another, the file exists, or it cannot be written.
    """
    target = require_page_name(path, overwrite=overwrite)
    data = (
        html_page(facts).encode()
        if target.suffix.lower() in HTML_ENDINGS
        else pdf_sheet(facts, page=page)
    )
    write_page_file(data, target, OwnFile.DECISION_SHEET, _ENDINGS, overwrite=overwrite)
    return target


def require_page_name(path: str | Path, *, overwrite: bool = False) -> Path:
    """
    Refuse a name early that no decision sheet can be written under.

    Parameters
    ----------
    overwrite : bool, optional
        As for `write_decision_sheet`.

    Returns
    -------
    Path
        Absolute.

    Raises
    ------
    RecordError
        If the ending is another than ``.html`` or ``.pdf``, or the file exists.
    """
    return require_page_file(
        path, OwnFile.DECISION_SHEET, _ENDINGS, overwrite=overwrite
    )
