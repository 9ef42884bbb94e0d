"""Panels: each shows one step of the plan and changes it."""
