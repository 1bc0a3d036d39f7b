"""Tests run side by side, so each of them keeps to one thread of the matrix library."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
