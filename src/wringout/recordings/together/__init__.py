"""Several recordings of one flight: their clocks brought together, their parts joined."""
