"""Settings of all tests."""

import os

# Small matrices gain nothing from threads, and tests that run side by side lose much.
# Set before NumPy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
