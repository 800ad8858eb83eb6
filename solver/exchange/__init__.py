"""Results in the formats of other programs."""
