"""Dummy loads in their plane: the problem with its materials, and where the heat goes."""
