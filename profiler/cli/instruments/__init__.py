"""Meters and lenses: a module for each command, of its name."""
