"""Meshes of parts in space."""
