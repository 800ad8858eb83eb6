"""Meshes and bodies that users bring."""
