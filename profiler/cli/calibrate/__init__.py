"""Calibrating a body: a module for each command, of its name."""
