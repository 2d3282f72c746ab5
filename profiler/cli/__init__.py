"""Commands: thin, printing results to stdout, everything else to stderr."""
