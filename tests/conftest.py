"""Drawn examples are the same at every run; `--hypothesis-profile=search` draws new ones, many more of them."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

SLOW = (HealthCheck.too_slow,)
"""How fast examples are drawn says something of the machine, nothing of the program."""

settings.register_profile("same", derandomize=True, database=None, deadline=None, suppress_health_check=SLOW)
settings.register_profile(
    "search", derandomize=False, deadline=None, max_examples=1000, print_blob=True, suppress_health_check=SLOW
)
settings.load_profile("same")
