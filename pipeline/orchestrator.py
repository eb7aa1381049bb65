"""Whether an orchestrator is configured, asked without loading it."""

import os


def configured() -> bool:
    """Return whether the environment names a Prefect API to report to."""
    return bool(os.environ.get("PREFECT_API_URL"))
