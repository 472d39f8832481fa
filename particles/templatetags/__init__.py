"""Template filters of the samples."""
