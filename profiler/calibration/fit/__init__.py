"""Fitting turns arrays of levels into records, and knows nothing of files."""
