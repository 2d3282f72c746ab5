"""Page 1, while the series is being shot: what has come, what is missing, what is wrong."""
