"""
An invented studio: its printer, papers, profiles and masters, all computed.

The names of `__init__.pyi` are loaded when they are first used.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
