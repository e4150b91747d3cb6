"""What all tests share: property tests that do not depend on how busy the machine is."""

from hypothesis import HealthCheck, settings

# Times say nothing under coverage on a shared machine; tests that want other settings say so themselves.
settings.register_profile("steady", deadline=None, suppress_health_check=(HealthCheck.too_slow,))
settings.load_profile("steady")
