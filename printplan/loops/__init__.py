"""
Loops over pixels, each a formula as it is written, compiled for this machine.

They take contiguous arrays, keep no state and hold no lock of Python's. None reorders
a sum or joins a product and a sum into one rounding: the same numbers give the same
bits on every processor.
"""
