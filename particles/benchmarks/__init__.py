"""Measurements of the computing core against stated aims; nothing in the laboratory's work imports them."""
