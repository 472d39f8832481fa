"""The preparation room."""
