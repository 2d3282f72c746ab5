"""The page for phones on this network: the answers on set, and a sheet to fill in."""
