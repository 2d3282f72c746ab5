"""Many bodies: a module for each command, of its name."""
