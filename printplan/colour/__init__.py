"""Profiles and what they do to colour."""
