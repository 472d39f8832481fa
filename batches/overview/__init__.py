"""Pages that show a whole batch."""
