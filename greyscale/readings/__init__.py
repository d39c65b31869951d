"""What was measured: Reading, one file per file format; layouts; lamps."""
