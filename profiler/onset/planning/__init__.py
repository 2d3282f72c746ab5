"""What to shoot for a calibration, and what it will be worth."""
