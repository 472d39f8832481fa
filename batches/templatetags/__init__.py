"""Template filters of the batches."""
