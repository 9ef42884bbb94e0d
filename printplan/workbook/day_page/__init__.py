"""One page for the day's work: one job, one picture that stays."""
