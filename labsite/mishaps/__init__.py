"""Pages for refusals and errors, and what the log keeps of them."""
