"""Which of the known names did a person mean?"""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection


_NEAR = 0.6
"""Likeness from which a name is offered as the one meant (difflib's own default)."""


def did_you_mean(name: str, valid: Collection[str], *, mark: str = '"') -> str:
    """
    Remedy for a name that is not known.

    Parameters
    ----------
    name : str
        As it was written.
    valid : collection of str
        The names that are known.
    mark : str, optional
        Put round each name.

    Returns
    -------
    str
        A question with the nearest name, or with several that are as near; all
        names if none is near.
    """
    likeness = {
        known: SequenceMatcher(None, name.casefold(), known.casefold()).ratio()
        for known in valid
    }
    best = max(likeness.values(), default=0.0)
    if best >= _NEAR:
        tied = [known for known in valid if likeness[known] == best]
        # Lengths have two names each; what is as near to both means millimetres.
        near = [f"{mark}{known}{mark}" for known in tied if _twin(known) not in tied]
        return f"Did you mean {' or '.join(near)}?"
    names = [f"{mark}{it}{mark}" for it in valid if _twin(it) not in valid]
    return f"Known here: {', '.join(names) or 'none'}."


def _twin(key: str) -> str:
    """Name of the length that a key in inches stands for; empty for other keys."""
    return f"{key[:-3]}_mm" if key.endswith("_in") else ""
