"""Flash and ambient light added as light."""
