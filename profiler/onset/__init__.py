"""Exposure arithmetic on set, from a profile."""
