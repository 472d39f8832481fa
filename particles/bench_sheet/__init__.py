"""One run as a JSON sheet."""
