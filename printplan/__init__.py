"""
Plan one photographic print: size, sharpening, paper colour, placement, record.

The names below are loaded when first used, so that ``import printplan`` costs
almost nothing; `__init__.pyi` lists them.
"""

import lazy_loader

_named, _names, __all__ = lazy_loader.attach_stub(__name__, __file__)
__all__ += ["__version__"]


def __getattr__(name: str) -> object:
    if name == "__version__":
        from importlib.metadata import version  # noqa: PLC0415 - slow, seldom asked

        return version("printplan")
    return _named(name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
