"""Exact conversion factors to SI, built from their legal definitions.

Sources: NIST Special Publication 811 (2008), Appendix B; the international yard and pound (1959).
A test proves each spelling's factor equal to pint's, so a slip here cannot go unseen.
"""

from __future__ import annotations

from math import pi
from typing import Final

TURN: Final = 2.0 * pi

INCH: Final = 0.0254
FOOT: Final = 0.3048
YARD: Final = 0.9144
MILE: Final = 1609.344

POUND: Final = 0.45359237
OUNCE: Final = POUND / 16.0
SHORT_TON: Final = 2000.0 * POUND
LONG_TON: Final = 2240.0 * POUND
TONNE: Final = 1000.0

MINUTE: Final = 60.0
HOUR: Final = 3600.0

GRAVITY: Final = 9.80665
LBF: Final = POUND * GRAVITY
KGF: Final = GRAVITY

CUBIC_INCH: Final = INCH * INCH * INCH
CUBIC_FOOT: Final = FOOT * FOOT * FOOT
CUBIC_YARD: Final = YARD * YARD * YARD
GALLON: Final = 231.0 * CUBIC_INCH
IMPERIAL_GALLON: Final = 4.54609e-3
LITRE: Final = 1e-3
CUBIC_CM: Final = 1e-6

PSI: Final = LBF / (INCH * INCH)
BAR: Final = 1e5
KPA: Final = 1e3
MPA: Final = 1e6
# Conventional mercury and water columns: 13595.1 and 1000 kg/m3 at standard gravity.
INCH_HG: Final = INCH * 13595.1 * GRAVITY
MM_HG: Final = 1e-3 * 13595.1 * GRAVITY
INCH_WATER: Final = INCH * 1000.0 * GRAVITY
ATMOSPHERE: Final = 101325.0

HORSEPOWER: Final = 550.0 * FOOT * LBF
METRIC_HORSEPOWER: Final = 75.0 * KGF
ELECTRICAL_HORSEPOWER: Final = 746.0
# International-table Btu: one calorie_IT per gram and kelvin, per pound and degF.
BTU: Final = 4186.8 * POUND * 5.0 / 9.0
FAHRENHEIT: Final = 5.0 / 9.0
