"""Equal pieces in a row: condensed one by one, joined, and the waves of one period."""
