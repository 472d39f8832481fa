"""The laboratory itself."""
