"""
Colour of a print: profiles, conversion, soft proof, gamut, tone and viewing light.

Every function takes arrays and returns arrays or plain values, and is the one that
windows, findings and files go through. Where a profile is wanted, a path, its bytes,
an opened profile or the name of a space (``"srgb"``) will do.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
