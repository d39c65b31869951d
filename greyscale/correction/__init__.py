"""From readings to a correction, its files, pictures sent through it, and its proof."""
