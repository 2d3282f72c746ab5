"""Page 1: a folder of frames, the patch on them, what the meter said."""
