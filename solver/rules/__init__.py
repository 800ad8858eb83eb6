"""Rules of thumb, their readings and sources."""
