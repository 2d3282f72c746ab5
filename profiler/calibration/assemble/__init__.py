"""Fits turned into the records of a profile."""
