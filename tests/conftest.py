"""Settings that hold for every test."""

from __future__ import annotations

from hypothesis import settings

# No test is timed: a busy machine or a cold import would fail a property that holds.
settings.register_profile("stopout", deadline=None)
settings.load_profile("stopout")
