"""A batch: every series below a folder measured, fitted and kept."""
