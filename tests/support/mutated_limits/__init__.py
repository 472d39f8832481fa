"""A command that mutates the numeric limits of the core, one at a time, and names those that no test holds."""
