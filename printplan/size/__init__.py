"""Print size, sheets and the picture's place: all in numbers, without pixels."""
