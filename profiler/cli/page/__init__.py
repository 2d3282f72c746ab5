"""All of it as a page: a module for each command, of its name."""
