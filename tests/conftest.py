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


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many rows of reference_cases/ were checked, and how many nothing answers yet."""

    def count(test: str) -> int:
        reports = [*terminalreporter.getreports("passed"), *terminalreporter.getreports("failed")]
        mark = f"reference/test_published.py::{test}["
        return sum(report.when == "call" and mark in report.nodeid for report in reports)

    checked, listed = count("test_row"), count("test_listed_row")
    if checked or listed:
        terminalreporter.write_line(
            f"published rows checked: {checked}; listed without a function: {listed}"
        )
