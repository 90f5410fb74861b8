"""What holds for every test."""

from hypothesis import settings

# How long an example takes says more about what else the machine does than about the code; tests/bench measures.
settings.register_profile("untimed", settings.get_profile(settings.get_current_profile_name()), deadline=None)
settings.load_profile("untimed")
