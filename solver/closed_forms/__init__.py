"""Closed forms, published and derived."""
