"""How does the decision sheet come onto the disk, as HTML or PDF?"""

from __future__ import annotations

import os
import secrets
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from jinja2 import Environment, StrictUndefined

from printplan.errors import RecordError, Setting
from printplan.pixels.free_name import give_free_name
from printplan.record.decision_sheet.pdf_sheet import PageSize, pdf_sheet
from printplan.record.decision_sheet.sheet_drawing import data_uri
from printplan.shown_text import visible

if TYPE_CHECKING:
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
    environment = Environment(
        autoescape=True,
        finalize=lambda it: visible(it) if isinstance(it, str) else it,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["data_uri"] = data_uri
    text = files(__package__).joinpath(_TEMPLATE).read_text(encoding="utf-8")
    return environment.from_string(text).render(facts=facts)


HTML_ENDINGS = (".html", ".htm")
PDF_ENDING = ".pdf"

# Both kinds hold their name, so that no other file is ever replaced by one.
_MARK = b"printplan decision sheet"


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
        Permits a decision sheet of that name to be replaced, and no other file.

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
    part = target.with_name(f".printplan-{secrets.token_hex(8)}.part")
    try:
        with part.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if overwrite and target.exists():
            part.replace(target)
        else:
            give_free_name(part, target)
    except FileExistsError as error:
        raise _exists(target) from error
    except OSError as error:
        raise RecordError(
            f"{target} cannot be written ({error.strerror or error}).",
            remedy="Choose a folder that exists and that you may write to.",
        ) from error
    finally:
        part.unlink(missing_ok=True)
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
    target = Path(path).absolute()
    if target.suffix.lower() not in {*HTML_ENDINGS, PDF_ENDING}:
        raise RecordError(
            f"A decision sheet is to be named {target.name!r}.",
            remedy=f"Name it {target.with_suffix('.html').name!r} or "
            f"{target.with_suffix(PDF_ENDING).name!r}.",
        )
    if not target.exists():
        return target
    if not overwrite:
        raise _exists(target)
    if not target.is_file() or _MARK not in target.read_bytes():
        raise RecordError(
            f"{target} is not a decision sheet; it was not replaced.",
            remedy="Choose another name.",
        )
    return target


def _exists(target: Path) -> RecordError:
    return RecordError(
        f"{target} exists already.",
        remedy="Choose another name.",
        setting=Setting.OVERWRITE,
    )
