"""The log of records and its proof."""
