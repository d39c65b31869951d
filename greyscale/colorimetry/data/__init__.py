"""Tables that colorimetry uses and no library has, each with its origin in its first line."""
