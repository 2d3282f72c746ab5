"""Page 6: sliders on a simulated body."""
