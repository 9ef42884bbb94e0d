"""Print size, resolution, resampling and layout, in numbers and arrays."""
