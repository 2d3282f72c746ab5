"""A calibration as answers: what to set, and what that rests on."""
