"""Commands that need no page: one sheet computed, an edition entered, the core measured."""
