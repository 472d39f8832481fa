"""Second readings, and how far the readers of the laboratory lie apart."""
