"""The pixels' way: master, stages, sheet, finished file."""
