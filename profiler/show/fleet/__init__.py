"""A fleet in words, pictures and records."""
