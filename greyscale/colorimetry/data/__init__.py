"""Tables that colorimetry uses, each with its origin in its first line."""
