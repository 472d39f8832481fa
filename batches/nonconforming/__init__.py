"""Approved batches re-opened because something in them was found wrong."""
