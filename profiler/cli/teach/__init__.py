"""Teaching: a module for each command, of its name."""
