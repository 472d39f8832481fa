"""Commands of the batches, one module each."""
