"""For all tests: random examples are given the time that they take, since the machine may be busy."""

from hypothesis import HealthCheck, settings

settings.register_profile("tocsin", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("tocsin")
