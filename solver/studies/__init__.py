"""What is asked: bands, limits, study files."""
