"""What solves a part."""
