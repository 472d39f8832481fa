"""Certificates for programs."""
