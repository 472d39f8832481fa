"""Advice on how much soil to weigh and when to read next; no result rests on it."""
