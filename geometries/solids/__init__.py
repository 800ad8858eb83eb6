"""The space inside a part as a solid body, for other programs."""
