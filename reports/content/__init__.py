"""The frozen content of a certificate."""
