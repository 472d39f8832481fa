"""The one way in for whatever is typed."""
