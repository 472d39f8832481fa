"""Clients and who may see their jobs."""
