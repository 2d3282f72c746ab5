"""From frames and a sheet to a profile; `pipeline.py` reads top to bottom."""
