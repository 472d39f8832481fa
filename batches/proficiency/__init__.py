"""Proficiency rounds: samples the bench does not know, results locked before the report, and their scores."""
