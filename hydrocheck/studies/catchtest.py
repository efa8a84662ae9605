"""Calibration: discharge per revolution from catches, from size, and whether the order is proven.

The mean of a few catches is known no better than Student's t allows: three catches with 2 % scatter
prove +/- 5 %, five +/- 2.5 %. Scatter is pooled over the settings, where there are several.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydrocheck.errors import DomainError, MissingValue
from hydrocheck.model.catches import Catches, Loads
from hydrocheck.model.truck import Spreading, Truck
from hydrocheck.physics import material
from hydrocheck.physics.material import Catch
from hydrocheck.studies.spreading import rate_accuracy

Array = NDArray[np.float64]

WIDE = 0.05
"""Scatter of a catch above which the catching itself is in doubt: ours, 1 to 5 % is usual."""
FILL = (0.70, 0.95)
"""Fill over which a flooded auger may lie: small flooded screw 0.83-0.93, rounded; ours."""
BED = (0.75, 1.00)
"""The same of a conveyor under its gate: a flight conveyor's textbook example has 0.77; ours."""
FEWEST_TO_SEE = 2


@dataclass(frozen=True)
class SettingCatch:
    """Catches at one setting. setting: [1], nan where none is told; shaft_speed: [rad/s], nan
    without times."""

    setting: float
    catch: Catch
    shaft_speed: float

    @property
    def discharge(self) -> float:
        """Mass flow at that setting [kg/s], nan without times."""
        return self.catch.mean * self.shaft_speed


@dataclass(frozen=True)
class CatchTest:
    """What catches say about the discharge per revolution.

    catch: all of them together; pooled: scatter of one catch, of several settings pooled [1];
    outlier_line: line of a catch that lies too far off, None where none does
    accuracy: to be proven [1], and whether the file orders it; more: further catches that prove it
    at this scatter, 0 where it is proven, None where so many are no answer
    by_size: from the truck's auger or conveyor [kg/rad], None where not given; size_low, size_high:
    over the range of fill; size_full: all that
    a turn sweeps; in_file: discharge per turn that the truck file gives, None where none
    """

    catch: Catch
    half_width: float
    pooled: float
    wide: bool
    outlier_line: int | None
    settings: tuple[SettingCatch, ...]
    accuracy: float
    accuracy_ordered: bool
    more: int | None
    by_size: float | None
    size_low: float | None
    size_high: float | None
    size_full: float | None
    in_file: float | None

    @property
    def proven(self) -> bool:
        """Whether the mean is known within the accuracy."""
        return self.half_width <= self.accuracy

    @property
    def file_error(self) -> float | None:
        """Truck file's value over the caught mean, less 1 [1]; None where the file has none."""
        return None if self.in_file is None else self.in_file / self.catch.mean - 1.0

    @property
    def fill(self) -> float | None:
        """Fill that the catches show, over the full swept volume [1]; None without a size."""
        return None if self.size_full is None else self.catch.mean / self.size_full


def catch_test(truck: Truck, catches: Catches) -> CatchTest:
    """Evaluate catches, beside the truck's size and its file. Raises DomainError, MissingValue."""
    turns = catches.mass / catches.revolutions
    everything = material.catch_statistics(catches.mass, catches.revolutions)
    settings = _by_setting(catches)
    half_width, pooled = _spread(everything, settings)
    place = material.outlier(turns)
    wanted = rate_accuracy(truck)
    low, by_size, high, full = sizes(truck.spreading)
    given = truck.spreading.mass_per_turn
    return CatchTest(
        catch=everything,
        half_width=half_width,
        pooled=pooled,
        wide=pooled > WIDE,
        outlier_line=None if place is None else catches.lines[place],
        settings=settings,
        accuracy=wanted,
        accuracy_ordered=truck.spreading.accuracy is not None,
        more=_more(everything.count, pooled, half_width, wanted),
        by_size=by_size,
        size_low=low,
        size_high=high,
        size_full=full,
        in_file=None if given is None else float(given),
    )


def _by_setting(catches: Catches) -> tuple[SettingCatch, ...]:
    """Catches of each setting; one group where no setting is told."""
    keys = np.where(np.isnan(catches.setting), -1.0, catches.setting)
    found = []
    for key in np.unique(keys):
        rows = keys == key
        angle, time = catches.revolutions[rows], catches.time[rows]
        timed = ~np.isnan(time)
        speed = float(angle[timed].sum() / time[timed].sum()) if timed.any() else np.nan
        catch = material.catch_statistics(catches.mass[rows], angle)
        found.append(SettingCatch(np.nan if key < 0 else float(key), catch, speed))
    return tuple(found)


def _spread(everything: Catch, settings: tuple[SettingCatch, ...]) -> tuple[float, float]:
    """Half-width of the mean of all, and scatter of one catch, both over the mean [1].

    The discharge of a turn may change with the setting: scatter is what remains within each.
    """
    repeated = [s.catch for s in settings if s.catch.count >= FEWEST_TO_SEE]
    if len(settings) == 1 or not repeated:
        return everything.half_width, everything.variation
    scatter, freedom = material.pooled_variation(
        [c.variation for c in repeated], [c.count for c in repeated]
    )
    return float(material.mean_half_width(scatter, everything.count, freedom)), scatter


def _more(count: int, scatter: float, half_width: float, wanted: float) -> int | None:
    if half_width <= wanted:
        return 0
    if not np.isfinite(scatter) or wanted <= 0:
        return None
    try:
        needed = int(material.catches_needed(scatter, wanted))
    except DomainError:
        return None
    return max(needed - count, 1)


def sizes(
    spreading: Spreading,
) -> tuple[float | None, float | None, float | None, float | None]:
    """Discharge per turn by size [kg/rad]: at the least fill, as stated, at the greatest, full.

    Nones without a size or a density.
    """
    density, auger, bed = spreading.density, spreading.auger, spreading.conveyor
    if density is None or (auger is None and bed is None):
        return None, None, None, None
    if auger is not None:
        full = material.auger_mass_per_revolution(
            auger.diameter, auger.shaft, auger.pitch, 1.0, density
        )
        fill, band = float(auger.fill), FILL
    else:
        assert bed is not None
        full = material.conveyor_mass_per_revolution(bed.width, bed.gate, bed.feed, 1.0, density)
        fill, band = float(bed.fill), BED
    swept = float(full)
    return swept * min(fill, band[0]), swept * fill, swept * max(fill, band[1]), swept


@dataclass(frozen=True)
class Calibration:
    """The classic table: lb/rev x rev/min x min/mile, S settings at V road speeds.

    per_turn: [kg/rad], shaft_speed: [rad/s], discharge: [kg/s], all (S,); pace: [s/m], (V,)
    rate: per lane [kg/m], (S, V)
    """

    settings: Array
    per_turn: Array
    shaft_speed: Array
    discharge: Array
    road_speeds: Array
    pace: Array
    rate: Array


def calibration_table(
    test: CatchTest, road_speeds: tuple[float, ...], lanes: int = 1
) -> Calibration | None:
    """Rate by setting and road speed from timed catches; None where none is timed.

    road_speeds: [m/s]; lanes: treated at once [1]. Raises MissingValue without a road speed.
    """
    timed = [s for s in test.settings if np.isfinite(s.shaft_speed)]
    if not timed:
        return None
    speeds = np.unique([v for v in road_speeds if v > 0])
    if not speeds.size:
        raise MissingValue(["spreading.road_speeds"])
    discharge = np.array([s.discharge for s in timed])
    pace = material.travel_time(1.0, speeds)
    return Calibration(
        settings=np.array([s.setting for s in timed]),
        per_turn=np.array([s.catch.mean for s in timed]),
        shaft_speed=np.array([s.shaft_speed for s in timed]),
        discharge=discharge,
        road_speeds=speeds,
        pace=pace,
        rate=material.application_rate(discharge[:, None], speeds, lanes),
    )


@dataclass(frozen=True)
class Verification:
    """Loads weighed against what was ordered. error: of each [1], (K,); total: of all [1]."""

    ordered: Array
    put_down: Array
    error: Array
    total: float
    accuracy: float
    accuracy_ordered: bool

    @property
    def good(self) -> bool:
        """Whether every load lies within the accuracy."""
        return bool((np.abs(self.error) <= self.accuracy).all())


def verify_loads(truck: Truck, loads: Loads) -> Verification:
    """Error of weighed loads in the truck's lanes and accuracy. Raises DomainError."""
    ordered = loads.rate * loads.distance * truck.spreading.lanes
    return Verification(
        ordered,
        loads.mass,
        material.verification_error(loads.mass, ordered),
        float(material.verification_error(loads.mass.sum(), ordered.sum())),
        rate_accuracy(truck),
        truck.spreading.accuracy is not None,
    )
