"""Results as text, figures and files."""
