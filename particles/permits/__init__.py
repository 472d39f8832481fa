"""Regulated origins."""
