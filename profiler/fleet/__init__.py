"""Many series: measured as a batch, kept as one table, judged, compared, followed over time."""
