"""Sharpening of a print: responses, unsharp mask, halo, picture content, choice."""
