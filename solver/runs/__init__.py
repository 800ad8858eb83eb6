"""Whole runs: parts one after the other, as the transmitter sees them."""
