"""The pages of a fleet: table, differences, drift, one body."""
