"""Page 3: settings, place, mix, ratio."""
