"""A series that grows: which frames have come, what is wrong with them, what is still missing."""
