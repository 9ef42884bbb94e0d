"""What should be known before ink is spent? Findings, never exceptions."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
