"""ICC profiles (ISO 15076-1; ICC.1:2001-04): what a correction reads and writes of them."""
