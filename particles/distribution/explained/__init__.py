"""One run taken apart: what each correction and each step does, and the notes on paper."""
