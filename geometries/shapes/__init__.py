"""Guides and parts by their dimensions."""
