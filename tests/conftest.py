"""For every test: how fast a busy machine makes random inputs is no failure of the code under test."""

from hypothesis import HealthCheck, settings

settings.register_profile("project", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("project")
