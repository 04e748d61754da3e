"""Text, HTML and CSV for people."""
