"""The loupe: the print's own pixels, one for one, on the screen."""
