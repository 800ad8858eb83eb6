"""From a solved part to its verdict."""
