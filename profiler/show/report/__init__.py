"""The report of a profile."""
