"""Rules of thumb held against the field, over many parts of every kind."""
