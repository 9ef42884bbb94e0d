"""Many prints out of one table: read, planned, checked, made and told."""
