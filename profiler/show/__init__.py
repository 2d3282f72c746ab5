"""Results as people read them: text, pictures."""
