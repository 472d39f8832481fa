"""Samples analysed once more: what asks for it by itself, and all attempts."""
