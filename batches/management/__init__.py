"""Commands of the batches."""
