"""What readings say: one file per question."""
