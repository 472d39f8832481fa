"""Certificates and everything else that leaves the laboratory."""
