"""Batches: from the portion on the balance to the reviewer's signature."""
