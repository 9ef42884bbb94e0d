"""How sharp: what eye and paper keep of an edge, and what a scan shows of it."""
