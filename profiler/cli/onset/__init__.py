"""Answers on set: a module for each command, of its name."""
