"""Weighing and sieving."""
