"""Reference sheets: values to print, cite and compute again."""
