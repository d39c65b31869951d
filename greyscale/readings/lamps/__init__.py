"""Which light a measured lamp is; one file per lamp format."""
