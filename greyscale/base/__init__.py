"""What every room may use: errors, files written whole, plain text."""
