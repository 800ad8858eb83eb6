"""Meshes of parts in their plane."""
