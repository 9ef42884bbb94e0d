"""
Sharpening of a print: unsharp mask, halo, responses, picture content, choice.

The names are loaded when first used; `__init__.pyi` lists them.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
