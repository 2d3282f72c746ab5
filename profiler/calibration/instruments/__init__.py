"""The sensor used as a ruler for other instruments: meters and lenses."""
