"""Tests run side by side: one thread of the matrix library each, and no clock decides a test."""

import os

from hypothesis import HealthCheck, settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# A fresh clone first builds tables of all letters; on a busy machine that takes seconds.
settings.register_profile(
    "any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("any machine")
