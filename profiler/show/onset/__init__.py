"""Answers on set in words and pictures."""
