"""What all tests have in common."""

from hypothesis import settings

settings.register_profile("any machine", deadline=None)  # how long an example takes is no result
settings.load_profile("any machine")
