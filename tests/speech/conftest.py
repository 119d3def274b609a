"""Property tests on a busy machine: no example is too slow to count."""

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
