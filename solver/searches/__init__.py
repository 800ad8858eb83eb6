"""Grids and searches over sizes."""
