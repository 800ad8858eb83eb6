"""Fields that ring: complex frequencies of parts with all ports open."""
