"""The program's own PostgreSQL."""
