"""Figures that belong to no window: their style, drawings of parts, pictures of fields."""
