"""The exception tree. Everything that a user can cause derives from `HydrocheckError`.

Imports nothing of ours, so that every layer can raise.
"""

from __future__ import annotations

from collections.abc import Sequence


class HydrocheckError(Exception):
    """Base of all errors that a user's input can cause; its text is fit to be shown as it is."""


class UnitError(HydrocheckError):
    """A text that is not one number with one fitting unit."""


class DomainError(HydrocheckError):
    """A value outside the range in which a formula means anything (negative bore, nan, ...)."""


class FileError(HydrocheckError):
    """A file that cannot be read or written: missing, a folder, too large, not UTF-8."""


class TruckFileError(HydrocheckError):
    """All that is wrong in a truck or readings file, one line each in `lines`."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = tuple(lines)
        super().__init__("\n".join(self.lines))


class MissingValue(HydrocheckError):
    """A computation needs values that the truck file does not give; `keys` names them."""

    def __init__(self, keys: Sequence[str]) -> None:
        self.keys = tuple(keys)
        super().__init__("needs " + ", ".join(self.keys))


class NotSolvedYet(HydrocheckError):
    """A valid circuit of a type that the solver does not cover yet."""

    def __init__(self, what: str) -> None:
        self.what = what
        super().__init__(f"not solved yet: {what}")


class CircuitError(HydrocheckError):
    """A circuit without a unique steady state (falling load curve, pump with no way out, ...)."""
