"""The on-set answers as one file to take along."""
