"""Measured parts beside computed ones."""
