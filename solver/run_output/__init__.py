"""What shows a whole run: JSON, words, drawing, report, files."""
