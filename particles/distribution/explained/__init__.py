"""Explanation of one run: its corrections and steps one by one, and the notes on paper."""
