"""Files of our own that people read and edit: plans, paper books, records."""
