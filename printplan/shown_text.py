"""How is text of others shown so that it does nothing but stand there?"""

from __future__ import annotations

import html
import unicodedata

# Other, control, format and surrogate; separators of lines and paragraphs (Unicode
# Standard, table 4-4).
_ACTING = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
# Format characters that scripts are written with: soft hyphen, joiners and the marks of
# direction, which move no letter of another word.
_WRITTEN = frozenset("\u00ad\u061c\u200c\u200d\u200e\u200f")
# Noncharacters (Unicode Standard, 23.7), which XML forbids in part.
_LAST_OF_PLANE = 0xFFFE
_NO_CHARACTERS = range(0xFDD0, 0xFDF0)


def visible(text: str) -> str:
    r"""
    Text as one line of valid letters, none of which acts on what shows it.

    Parameters
    ----------
    text : str
        A title, a name, a printer's message.

    Returns
    -------
    str
        Control characters, ends of lines, halves of character pairs, noncharacters and
        the characters that turn the direction of what follows stand as escapes.
        Letters, accents and spaces of every script are left alone, also those that a
        terminal's own letters lack.

    Notes
    -----
    Directions are made visible rather than isolated: an element that isolates exists in
    HTML alone, and a title stands in attributes, drawings, PDF pages and terminals too.
    Which characters turn directions is said in [1]_, 2; that they are used to deceive,
    in [2]_.

    References
    ----------
    .. [1] Unicode Standard Annex #9, Unicode Bidirectional Algorithm.
    .. [2] Unicode Technical Report #36, Unicode Security Considerations, 2.4.

    Examples
    --------
    >>> print(visible(f"low ink{chr(27)}[2J, São Tomé"))
    low ink\x1b[2J, São Tomé
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escape(it) if _acts(it) else it for it in text)


def escape(text: str) -> str:
    """
    Text for HTML and SVG, in an element or in a quoted attribute.

    Returns
    -------
    str
        As `visible` shows it, with ``&``, ``<``, ``>`` and quotes as references.

    Examples
    --------
    >>> escape("<b>")
    '&lt;b&gt;'
    """
    return html.escape(visible(text))


def quoted(page: str) -> str:
    """
    A page of our own, whose text is escaped already, for a quoted attribute.

    Returns
    -------
    str
        With ends of lines as they are; ``&``, ``<``, ``>`` and quotes as references.
    """
    return html.escape(page)


def shortened(text: str, most: int = 300) -> str:
    """Text of at most so many characters, and the mark put in its middle if cut."""
    if len(text) <= most:
        return text
    half = most // 2
    return f"{text[:half]} … {text[len(text) - half + 10 :]}"


def _acts(letter: str) -> bool:
    if unicodedata.category(letter) in _ACTING:
        return letter not in _WRITTEN
    code = ord(letter)
    return code & _LAST_OF_PLANE == _LAST_OF_PLANE or code in _NO_CHARACTERS


def _escape(letter: str) -> str:
    return letter.encode("unicode_escape").decode()
