"""What tests of this folder want said at the end of a run: lines recorded under `said`."""

from __future__ import annotations

import pytest

SAID = "said"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the recorded lines of the tests that ran."""
    reports = [*terminalreporter.getreports("passed"), *terminalreporter.getreports("failed")]
    lines = [
        str(text) for report in reports if report.when == "call"
        for key, text in report.user_properties if key == SAID
    ]  # fmt: skip
    if lines:
        terminalreporter.section("agency sets: flow by the solver against a constant 95 %")
        for line in lines:
            terminalreporter.write_line(line)
