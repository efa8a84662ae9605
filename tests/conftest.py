"""Shared by all tests: hypothesis profiles, a figure backend without a screen, the command line."""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest
from click.testing import CliRunner, Result
from hypothesis import settings

os.environ.setdefault("MPLBACKEND", "Agg")

# No deadline: a slow machine is not a defect. CI repeats the same examples in every run.
settings.register_profile("default", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, database=None)
settings.load_profile("ci" if os.environ.get("CI") else "default")


@pytest.fixture
def hydrocheck_cli() -> Callable[..., Result]:
    """Run `hydrocheck ARGS...` in this process; exceptions that escape fail the test."""
    from hydrocheck.cli import main

    def run(*args: str) -> Result:
        return CliRunner().invoke(main, list(args), catch_exceptions=False)

    return run
