"""The tabs of On set: a module for each, of its name."""
