"""The register of instruments and lots."""
