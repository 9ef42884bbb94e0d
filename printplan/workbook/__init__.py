"""The faces: panels, figures and the launcher of the notebooks."""
