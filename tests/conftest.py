"""What every test runs under: hypothesis profiles.

`ci`       the same examples on every run; chosen where CI is set
`dev`      the default: fresh examples each time
`nightly`  many more; `HYPOTHESIS_PROFILE=nightly pytest`

A test that gives its own number of examples keeps it.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# a busy machine must not fail a test: time is measured in tests/bench/ and nowhere else
_COMMON = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}

settings.register_profile("ci", derandomize=True, database=None, max_examples=50, **_COMMON)
settings.register_profile("dev", max_examples=100, **_COMMON)
settings.register_profile("nightly", max_examples=5000, print_blob=True, **_COMMON)
settings.load_profile(
    os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "dev")
)
