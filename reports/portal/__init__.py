"""The client's pages."""
