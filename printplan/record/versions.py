"""Which programs and libraries decide what a finished file holds?"""

from __future__ import annotations

import platform
import zlib
from dataclasses import dataclass, fields
from importlib.metadata import PackageNotFoundError, version

import imagecodecs

from printplan.errors import RecordError


@dataclass(frozen=True, slots=True, kw_only=True)
class Versions:
    """
    What computed a file, as each names its own version.

    Attributes
    ----------
    printplan, python, numpy, pillow, imagecodecs, opencolorio, scipy, tifffile : str
    littlecms : str
        As imagecodecs brings it along.
    zlib : str
        As Python runs with it.
    machine : str
        Operating system and processor family.
    """

    printplan: str
    python: str
    numpy: str
    pillow: str
    imagecodecs: str
    littlecms: str
    opencolorio: str
    scipy: str
    tifffile: str
    zlib: str
    machine: str


def running_versions() -> Versions:
    """
    The versions in use here and now.

    Returns
    -------
    Versions

    Raises
    ------
    RecordError
        If one of them is not installed as a package, so that nothing tells its
        version.
    """
    return Versions(
        printplan=_version("printplan"),
        python=platform.python_version(),
        numpy=_version("numpy"),
        pillow=_version("Pillow"),
        imagecodecs=_version("imagecodecs"),
        littlecms=str(imagecodecs.cms_version()).removeprefix("lcms2 "),
        opencolorio=_version("opencolorio"),
        scipy=_version("scipy"),
        tifffile=_version("tifffile"),
        zlib=zlib.ZLIB_RUNTIME_VERSION,
        machine=f"{platform.system()} {platform.machine()}",
    )


def changed_versions(then: Versions, now: Versions) -> tuple[str, ...]:
    """
    What is no longer as it was.

    Parameters
    ----------
    then, now : Versions

    Returns
    -------
    tuple of str
        Such as ``numpy 2.1.0 then, 2.2.1 now``; empty if all are the same.
    """
    return tuple(
        f"{field.name} {before} then, {after} now"
        for field in fields(Versions)
        if (before := getattr(then, field.name)) != (after := getattr(now, field.name))
    )


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError as error:
        raise RecordError(
            f"{name} is not installed as a package here, so its version is not known.",
            remedy="Install printplan with python -m pip install, in a checkout with "
            "-e and a full stop.",
        ) from error
