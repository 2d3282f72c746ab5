"""Page 2: measuring, the fit, what a correction changes."""
