"""The sheet to scale, on which picture and crop are moved by hand."""
