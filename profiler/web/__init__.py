"""The local page: a small server on this machine, for this user alone."""
