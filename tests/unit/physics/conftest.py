"""Property tests of physics: no time limit per example, since a busy machine is no fault of a formula."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("physics", deadline=None)
settings.load_profile("physics")
