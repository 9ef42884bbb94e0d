"""The page that says what was decided for a print, and why."""
