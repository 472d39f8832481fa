"""Drying, the 2 mm sieve and pretreatment."""
