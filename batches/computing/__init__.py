"""The computation of results from complete readings, by workers."""
