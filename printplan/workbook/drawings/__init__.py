"""Drawings of colour: one question to a module, arrays in, axes out."""
