"""Page 4: planning a calibration, checking a profile."""
