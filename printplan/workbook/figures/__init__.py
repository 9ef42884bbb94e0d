"""
What does each step look like? Pictures that stay without the kernel.

Each picture is loaded from its own module when it is first asked for, so that a
notebook's first one comes soon.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
