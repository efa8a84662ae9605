"""`hydrocheck calc`: every formula on an outside example, both units, errors in a line."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import Result

from hydrocheck.errors import DomainError, UnitError
from hydrocheck.studies.handbook import CAUTION, FORMULAS, calculate
from hydrocheck.units import KINDS, to_unit

Run = Callable[..., Result]

# name -> options, answer, unit, tolerance; the source stands at the line's end. FPA: Fluid Power
# with Applications (2005); FPT: Fluid Power: Theory and Applications (4th ed.).
EXAMPLES: list[tuple[str, str, str, float, str, float]] = [
    # 231 in3 make a gallon: 4000 / 231
    ("pump-flow", "displacement=4 in^3/rev; speed=1000 rpm", "flow", 17.316, "gpm", 5e-4),
    ("pump-flow", "displacement=65.548 cc/rev; speed=1000 rpm", "flow", 17.316, "gpm", 5e-4),
    # FPA Example 5-2: displacement 61.36 cm3
    ("pump-flow", "displacement=61.36 cm3/rev; speed=1000 rpm; volumetric-efficiency=90 %",
     "flow", 55.2, "L/min", 0.05),
    # tractor project: 28.68 gal/min at 2700 rpm
    ("pump-displacement", "flow=28.68 gpm; speed=2700 rpm", "displacement", 2.453, "in3/rev", 1e-3),
    # FPA Example 5-9, 7000 kPa on 100 cm3: 112 N m, rounded
    ("pump-torque", "displacement=100 cc/rev; pressure=70 bar", "torque", 112, "N m", 0.7),
    # cases: 28.34 gal/min at 3000 psi and 85 %
    ("pump-power", "flow=28.34 gpm; pressure=3000 psi; overall-efficiency=85 %",
     "power", 58.4, "hp", 0.1),
    # trade article on a pump condemned at 80 %: 92 % at full stroke, 80 L/min of slip
    ("pump-efficiency", "flow=920 L/min; displacement=1 L/rev; speed=1000 rpm",
     "volumetric_efficiency", 92, "%", 1e-6),
    ("pump-efficiency", "flow=920 L/min; displacement=1 L/rev; speed=1000 rpm",
     "slip", 80, "L/min", 1e-6),
    # FPA Example 5-9: 83.5 % carried on
    ("pump-efficiency", "flow=1.5 L/s; displacement=100 cc/rev; speed=1000 rpm; torque=120 N m; "
     "pressure=70 bar", "overall_efficiency", 83.5, "%", 0.1),
    # FPA Example 7-2: 462 rpm, 795 in lbf (truncated)
    ("motor-speed", "flow=10 gpm; displacement=5 in3/rev", "speed", 462, "rpm", 0.5),
    ("motor-torque", "displacement=5 in3/rev; pressure=1000 psi", "torque", 795, "in-lb", 1.0),
    # a web answer that multiplies gets 0.9
    ("motor-flow", "displacement=10 cc/rev; speed=150 rpm; volumetric-efficiency=60 %",
     "flow", 2.5, "L/min", 1e-6),
    # FPA Example 7-1: vane motor of pi x 2 in3 at 1000 in lbf
    ("motor-pressure", "torque=1000 in-lb; displacement=6.2832 in3/rev",
     "pressure", 1000, "psi", 0.5),
    # FPA Example 7-4: 4.71 in3
    ("motor-displacement", "flow=10 gpm; speed=490 rpm", "displacement", 4.71, "in3/rev", 0.01),
    # FPA Example 7-2 turned round
    ("motor-displacement", "torque=795.77 in-lb; pressure=1000 psi",
     "displacement", 5.0, "in3/rev", 1e-3),
    # hydraulics learning site: 93.51 %, 94.55 %
    ("motor-efficiency", "flow=15 gpm; displacement=3 in3/rev; speed=1080 rpm",
     "volumetric_efficiency", 93.51, "%", 0.01),
    ("motor-efficiency", "flow=15 gpm; displacement=3 in3/rev; speed=1080 rpm; torque=790 in-lb; "
     "pressure=1750 psi", "hydromechanical_efficiency", 94.55, "%", 0.01),
    # mailing list, 1997: 32.2 hp
    ("hydraulic-power", "flow=24 gpm; pressure=2300 psi", "power", 32.2, "hp", 0.05),
    # FPA Example 7-6: 35.6 kW
    ("shaft-power", "torque=170 N m; speed=2000 rpm", "power", 35.6, "kW", 0.05),
    # FPA Example 3-16: 65.9 N m
    ("shaft-torque", "power=10 kW; speed=1450 rpm", "torque", 65.9, "N m", 0.05),
    # trade journal: about 67 %
    ("drive-ratio", "pump-speed=1000 rpm; engine-speed=1500 rpm", "drive_ratio", 66.7, "%", 0.05),
    # FED-STD-794 with its 1714: 51.5 hp
    ("drive-rating", "pressure=2500 psi; flow=20 gpm", "power", 51.5, "hp", 0.05),
    # textbook on circuits: 4000 psi
    ("divider-pressure", "pressure=2000 psi; share=50 %", "outlet_pressure", 4000, "psi", 1e-6),
    # FPA Example 6-1: 2.05 and 2.73 ft/s, 318 and 425 psi (rounded up)
    ("cylinder-speed", "flow=20 gpm; bore=2 in; rod=1 in", "extend_speed", 2.05, "ft/s", 0.01),
    ("cylinder-speed", "flow=20 gpm; bore=2 in; rod=1 in", "retract_speed", 2.73, "ft/s", 0.01),
    ("cylinder-pressure", "load=1000 lbf; bore=2 in; rod=1 in", "extend_pressure", 318, "psi", 0.5),
    ("cylinder-pressure", "load=1000 lbf; bore=2 in; rod=1 in",
     "retract_pressure", 425, "psi", 0.6),
    ("cylinder-force", "pressure=318.31 psi; bore=2 in", "push", 1000, "lbf", 0.1),
    # an agency's plow lift: 6.9 s on 4.74 gal/min
    ("cylinder-time", "flow=4.74 gpm; bore=4 in; stroke=10 in", "extend_time", 6.9, "s", 0.05),
    ("cylinder-flow", "bore=4 in; stroke=10 in; time=6.886 s", "extend_flow", 4.74, "gpm", 0.005),
    # FPT Example 8.1: 7.979 in
    ("cylinder-bore", "load=80000 lbf; pressure=1600 psi", "bore", 7.979, "in", 5e-4),
    # FPA Examples 3-14 and 10-1
    ("line-velocity", "flow=60 L/min; bore=30 mm", "velocity", 1.41, "m/s", 0.01),
    ("line-bore", "flow=30 gpm; velocity=20 ft/s", "bore", 0.783, "in", 5e-4),
    # FPA Examples 4-1 and 4-3: 10 ft/s are 24.48 gal/min; Re 774, 60.0 psi
    ("line-drop", "flow=24.48 gpm; bore=1 in; length=100 ft; viscosity=100 cSt; "
     "density=0.9 g/cm3", "pressure_drop", 60.0, "psi", 0.3),
    ("line-drop", "flow=24.48 gpm; bore=1 in; length=100 ft; viscosity=100 cSt",
     "reynolds_number", 774, "1", 0.5),
    # practitioners' case: 22.9 inHg at 1500 cSt (velocity head apart)
    ("suction-inlet", "flow=20 gpm; bore=1.5 in; length=8 ft; viscosity=1500 cSt",
     "inlet_vacuum", 22.9, "inHg", 0.1),
    # trade article: 0.080 in at 1500 psi passes 4.8 to 5.6 gal/min
    ("orifice-flow", "pressure=1500 psi; bore=0.080 in; discharge-coefficient=0.6",
     "flow", 4.8, "gpm", 0.05),
    ("orifice-flow", "pressure=1500 psi; area=0.0050265 in2; discharge-coefficient=0.7",
     "flow", 5.6, "gpm", 0.06),
    ("orifice-size", "flow=10 gpm; pressure=1500 psi; discharge-coefficient=0.7",
     "bore", 0.107, "in", 6e-4),
    ("flow-at-drop", "flow=10 gpm; pressure=1500 psi; new-pressure=300 psi",
     "new_flow", 4.47, "gpm", 0.005),
    # definition: 1 gal/min of water at 1 psi
    ("valve-coefficient", "flow=1 gpm; pressure=1 psi; specific-gravity=1",
     "flow_coefficient", 1.0, "gpm/psi^0.5", 1e-9),
    # FPA Example 8-2: 11.7 hp; Example 11-3: 4.3 K
    ("relief-heat", "flow=20 gpm; pressure=1000 psi", "power", 11.7, "hp", 0.05),
    ("relief-heat", "flow=0.000632 m3/s; pressure=70 bar; density=895 kg/m3; "
     "specific-heat=1.8 kJ/(kg K)", "temperature_rise", 4.3, "K", 0.06),
    # troubleshooting site: 10 gal in 15 s
    ("bucket-test", "volume=10 gal; time=15 s", "flow", 40, "gpm", 1e-9),
    ("bucket-test", "volume=92 L; time=6 s; displacement=1 L/rev; speed=1000 rpm",
     "volumetric_efficiency", 92, "%", 1e-6),
    # Hydraulic Systems for Mobile Equipment, p. 421
    ("load-sensing-pressure", "load-pressure=1000 psi; margin=250 psi; standby=400 psi; "
     "compensator=3000 psi", "pump_pressure", 1250, "psi", 1e-6),
    # hobby forum: 12 V on 30 ohm
    ("coil-current", "voltage=12 V; resistance=30 ohm", "current", 0.4, "A", 1e-9),
    # first-order circuit, in percent of 1.5 A: 121
    ("coil-ripple", "voltage=12 V; resistance=5.3 ohm; inductance=12 mH; frequency=100 Hz",
     "ripple", 1.815, "A", 0.01),
    # trade site on a throttle valve
    ("command-line", "command-1=40 %; flow-1=5 gpm; command-2=80 %; flow-2=50 gpm",
     "deadband", 35.6, "%", 0.05),
    # ASTM D341 with given points: 2940 cSt at -20 F
    ("oil-viscosity", "temperature=-20 F; temperature-1=40 C; viscosity-1=22 cSt; "
     "temperature-2=100 C; viscosity-2=4.3 cSt", "viscosity", 2940, "cSt", 5.0),
    # own table of VG 46, index 100: 134.5 cSt at 20 degC
    ("oil-viscosity", "temperature=20 C; grade=ISO VG 46", "viscosity", 134.5, "cSt", 0.8),
    # ASTM D2270, 5.1.4
    ("viscosity-index", "viscosity-40=73.30 cSt; viscosity-100=8.86 cSt",
     "viscosity_index", 92.43, "1", 0.02),
    # common practice: 0.07 % a kelvin
    ("oil-density", "temperature=25 C; density-15=1000 kg/m3", "density", 993, "kg/m3", 1e-6),
    # FPT Example 14.6: 158.33 degF
    ("oil-temperature", "heat=1.25 hp; ambient=75 F; area=15 ft2; coefficient=0.001 hp/ft2/F",
     "oil_temperature", 158.33, "degF", 0.01),
    # exercise page citing NFPA: 45 gal
    ("reservoir-volume", "flow=15 gpm; dwell=3 min", "volume", 45, "gal", 1e-6),
    # Minnesota handbook: 200 lb/min at 20 mph are 600 lb a mile
    ("spread-rate", "rate=600 lb/lane-mile; road-speed=20 mph", "discharge", 200, "lb/min", 1e-6),
    ("spread-rate", "rate=600 lb/lane-mile; road-speed=20 mph; mass-per-rev=4 lb/rev",
     "shaft_speed", 50, "rpm", 1e-6),
    ("spread-rate", "discharge=200 lb/min; road-speed=20 mph",
     "application_rate", 600, "lb/lane-mile", 1e-6),
    ("spread-rate", "shaft-speed=50 rpm; mass-per-rev=4 lb/rev; road-speed=30 mph",
     "application_rate", 400, "lb/lane-mile", 1e-6),
    ("spread-speed", "discharge=200 lb/min; rate=600 lb/lane-mile", "road_speed", 20, "mph", 1e-6),
    # 1 lb a lane-mile of 12 ft: 0.07706 g/m2
    ("area-rate", "rate=100 lb/lane-mile", "area_rate", 7.706, "g/m2", 5e-4),
    ("area-rate", "area-rate=1 g/m2", "application_rate", 12.98, "lb/lane-mile", 5e-3),
    # swept volume of 7 in over 4 in, 6 in pitch: 0.0900 ft3
    ("auger-discharge", "diameter=7 in; shaft-diameter=4 in; pitch=6 in; density=1 lb/ft3; "
     "fill=100 %", "discharge_per_revolution", 0.08999, "lb/rev", 1e-5),
    # MaineDOT, 10 gal/ton at 83.33 lb/min
    ("prewet-flow", "discharge=83.333 lb/min; liquid-per-mass=10 gal/ton",
     "flow", 0.4167, "gpm", 5e-4),
    # 65 gal x 3 lanes x 45 mph
    ("liquid-flow", "rate=65 gal/lane-mile; road-speed=45 mph; lanes=3",
     "flow", 146.25, "gpm", 1e-6),
    # sprinkler page: K 5.6, 39.6 gal/min at 50 psi, 14.82 at 7; nozzle page: 150 at 50, 184 at
    # 75 psi; water-rated 39.6 gal/min of brine of 1.17: 36.6
    ("nozzle", "rated-flow=39.6 gpm; rated-pressure=50 psi; pressure=7 psi",
     "nozzle_flow", 14.82, "gpm", 5e-3),
    ("nozzle", "rated-flow=150 gpm; rated-pressure=50 psi; flow=183.7 gpm",
     "nozzle_pressure", 75.0, "psi", 0.05),
    ("nozzle", "rated-flow=39.6 gpm; rated-pressure=50 psi; pressure=50 psi; specific-gravity=1.17",
     "nozzle_flow", 36.6, "gpm", 0.05),
    # AASHTO M 143-14: 1.176 (a law gives 1.178); Oregon State University S.G. 22: -6 degF
    ("brine", "concentration=23.3 %", "specific_gravity", 1.176, "1", 3e-3),
    ("brine", "concentration=23.3 %", "freezing_point", -6.0, "degF", 0.1),
    # salometer definition: 23.3 / 26.395
    ("brine", "concentration=23.3 %", "saturation", 88.3, "degS", 0.05),
    # arithmetic: 7500 pulses over a quarter mile; 5 % larger tyre, 4.10 to 4.56 axle
    ("speed-sensor", "pulses=7500; distance=0.25 mile", "sensor", 30000, "pulses/mile", 1e-6),
    # 31500 pulses a mile where 30000 are set: 5 % too much
    ("speed-sensor", "pulses=7875; distance=0.25 mile; set-pulses=30000 pulses/mile",
     "rate_error", 5.0, "%", 1e-6),
    ("speed-sensor", "set-pulses=30000 pulses/mile; rolling-before=100 in; rolling-after=105 in; "
     "axle-before=4.10; axle-after=4.56", "sensor", 31777, "pulses/mile", 0.5),
    # arithmetic: 624 lb where 3 miles at 200 lb/lane-mile are 600
    ("weighed-load", "put-down=624 lb; rate=200 lb/lane-mile; distance=3 mile",
     "error", 4.0, "%", 1e-6),
    # worked table: R 0.25 m, r0 0.06 m, friction 0.3: 9.620 m/s radial at 500 rpm, 14.62 m/s at
    # 450; friction 0.44 leaves at 33.0 deg from the tangent
    ("spinner-exit", "speed=500 rpm; disc-radius=0.25 m; feed-radius=0.06 m; friction=0.3",
     "radial_speed", 9.620, "m/s", 2e-3),
    ("spinner-exit", "speed=450 rpm; disc-radius=0.25 m; feed-radius=0.06 m; friction=0.3",
     "exit_speed", 14.62, "m/s", 0.01),
    ("spinner-exit", "speed=800 rpm; disc-radius=0.25 m; feed-radius=0.06 m; friction=0.44",
     "angle_from_tangent", 33.0, "deg", 0.35),
    # worked table at 450 rpm: 4.09 m, without drag 4.43 m; 3 deg upward is 23 % more
    ("grain-throw", "speed=14.62 m/s; height=0.45 m", "throw", 4.09, "m", 0.01),
    ("grain-throw", "speed=14.62 m/s; height=0.45 m", "without_air", 4.43, "m", 0.01),
    ("grain-throw", "speed=14.62 m/s; height=0.45 m; elevation=3 deg", "throw", 5.03, "m", 0.05),
    ("grain-throw", "speed=14.62 m/s; height=0.45 m; grain=9.5 mm", "throw", 4.24, "m", 0.01),
]  # fmt: skip


def options(text: str) -> list[str]:
    """`flow=1 gpm; bore=2 in` as command line options."""
    found = []
    for part in text.split("; "):
        name, _, value = part.partition("=")
        found += [f"--{name}", value]
    return found


def in_unit(value: dict[str, Any], unit: str) -> float:
    """The number in a unit of a JSON quantity; the kinds of its SI unit must know it."""
    if unit == "1":
        return float(value["si"])
    fitting = [k for k, kind in KINDS.items() if kind.si == value["unit"] and kind.find(unit)]
    if unit == "degF":
        fitting = ["temperature"]
    if unit == "K":
        return float(value["si"])
    return to_unit(float(value["si"]), fitting[0], unit)


def test_every_formula_has_an_example() -> None:
    assert {name for name, *_ in EXAMPLES} == set(FORMULAS)


@pytest.mark.parametrize(
    ("name", "given", "output", "value", "unit", "tolerance"),
    EXAMPLES,
    ids=[f"{e[0]}-{i}" for i, e in enumerate(EXAMPLES)],
)
def test_example(
    hydrocheck_cli: Run,
    name: str,
    given: str,
    output: str,
    value: float,
    unit: str,
    tolerance: float,
) -> None:
    result = hydrocheck_cli("calc", name, *options(given), "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(result.stdout)
    assert document["command"] == f"calc {name}"
    assert document["truck"] is None
    answer = document["result"]
    assert set(answer[output]) == {"si", "unit", "shown"}
    assert in_unit(answer[output], unit) == pytest.approx(value, abs=tolerance)
    assert answer["source"]
    asked = {part.partition("=")[0].replace("-", "_") for part in given.split("; ")}
    assert set(answer["inputs"]) == asked | set(document["defaults_used"])
    assert not asked & set(document["defaults_used"])


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("example", EXAMPLES, ids=[f"{e[0]}-{i}" for i, e in enumerate(EXAMPLES)])
def test_text(hydrocheck_cli: Run, example: Any, units: str) -> None:
    name, given, *_ = example
    result = hydrocheck_cli("calc", name, *options(given), "--units", units)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.isascii()
    assert all(len(line) <= 80 for line in result.stdout.splitlines())
    assert " = " in result.stdout
    assert "Source: " in result.stdout
    assert "{" not in result.stdout
    flat = " ".join(result.stdout.split())
    assert (CAUTION in flat) == FORMULAS[name].caution


def test_the_formula_is_shown_with_its_numbers(hydrocheck_cli: Run) -> None:
    args = ("calc", "pump-flow", "--displacement", "4 in^3/rev", "--speed", "1000 rpm")
    us, metric = hydrocheck_cli(*args).stdout, hydrocheck_cli(*args, "--units", "metric").stdout
    assert "Q = D n eta_v = 4 in^3/rev x 1000 rpm x 100 % = 17.316 gal/min" in us
    assert "Q = D n eta_v = 4 in^3/rev x 1000 rpm x 100 % = 65.548 L/min" in metric
    assert "Taken by default: volumetric efficiency 100 %." in us
    result = json.loads(hydrocheck_cli(*args, "--json").stdout)["result"]
    assert result["flow"]["si"] == pytest.approx(0.00109247093, rel=1e-8)
    assert result["flow"]["shown"] == "17.316 gal/min"
    assert result["formula"].startswith("Q = D n eta_v = 4 in^3/rev")


def test_a_line_prints_its_regime(hydrocheck_cli: Run) -> None:
    args = ("--bore", "3/4 in", "--length", "20 ft", "--viscosity", "46 cSt")
    for flow, regime in (("10 gpm", "laminar"), ("30 gpm", "transition"), ("60 gpm", "turbulent")):
        result = hydrocheck_cli("calc", "line-drop", "--flow", flow, *args)
        assert any(line.split()[-1:] == [regime] for line in result.stdout.splitlines()), flow
        assert "reynolds number" in result.stdout
        assert "(3/4 in)" in result.stdout


def test_a_negative_value_is_an_option_value(hydrocheck_cli: Run) -> None:
    args = ("--flow", "20 gpm", "--bore", "2 in", "--length", "4 ft", "--viscosity", "46 cSt")
    result = hydrocheck_cli("calc", "suction-inlet", *args, "--oil-height", "-12 in", "--json")
    assert json.loads(result.stdout)["result"]["head"]["si"] < 0.0


ERRORS = [
    ("pump-flow", [], "pump-flow needs --displacement and --speed"),
    ("pump-flow", ["--speed", "1000 rpm"], "pump-flow needs --displacement"),
    ("pump-flow", ["--speed", "1000"], "no unit; a shaft speed takes rpm"),
    ("pump-flow", ["--speed", "1000 psi"], "not of shaft speed"),
    ("pump-flow", ["--speed", "nan"], "nan"),
    ("pump-flow", ["--speed", "inf rpm"], "inf"),
    ("pump-flow", ["--speed", ""], "--speed"),
    ("pump-flow", ["--speed", "-1000 rpm"], "must not be negative"),
    ("pump-flow", ["--speed", "1000 rpm +/- 5 %"], "tolerance"),
    ("pump-flow", ["--speed", "1 rpm", "--speed", "2 rpm"], "--speed is given 2 times"),
    ("pump-flow", ["--speed"], "requires an argument"),
    ("pump-flow", ["--sped", "1000 rpm"], "Did you mean '--speed'?"),
    ("pump-flow", ["4 in3/rev"], "quantities are given as options"),
    ("pump-flow", ["--displacement", "0 cc", "--speed", "9 rpm"], "must be a positive number"),
    ("pump-flow", ["--displacement", "4 cc", "--speed", "9 rpm", "--volumetric-efficiency", "93"],
     "93 %"),
    ("pump-flow", ["--displacement", "4 cc", "--speed", "9 rpm", "--volumetric-efficiency", "101%"],
     "at most 1"),
    ("pump-flow", ["--displacement", "1e200 cc", "--speed", "1e200 rpm"], "no finite answer"),
    ("pump-efficiency", ["--flow", "20 gpm", "--displacement", "1 in3/rev", "--speed", "1000 rpm"],
     "above 100 %"),
    ("motor-displacement", [], "--torque and --pressure; or --flow and --speed"),
    ("motor-displacement", ["--torque", "9 lb-ft"], "--torque and --pressure; or"),
    ("motor-displacement", ["--torque", "9 N m", "--pressure", "9 bar", "--speed", "9 rpm"],
     "--flow and --speed"),
    ("hydraulic-power", ["--flow", "5 gpm", "--pressure", "9 psia"], "neither gauge nor absolute"),
    ("cylinder-speed", ["--flow", "5 gpm", "--bore", "2 in", "--rod", "2 in"], "thinner"),
    ("bucket-test", ["--volume", "10 gal", "--time", "0 s"], "--time must be above zero"),
    ("line-drop", ["--flow", "5 gpm", "--bore", "0 in", "--length", "1 ft", "--viscosity", "9 cSt"],
     "no finite answer"),
    ("oil-viscosity", ["--temperature", "20 C", "--grade", "thick"], "no grade"),
    ("oil-viscosity", ["--temperature", "-500 F", "--grade", "VG 32"], "absolute zero"),
    ("spinner-exit", ["--speed", "20 rpm", "--disc-radius", "10 in", "--feed-radius", "1 in"],
     "no finite answer"),
    ("spinner-exit", ["--speed", "300 rpm", "--disc-radius", "10 in", "--feed-radius", "11 in"],
     "inside its rim"),
    ("grain-throw", ["--speed", "15 m/s", "--height", "0 in"], "height must be a positive"),
    ("spread-rate", ["--rate", "200 lb/two-lane mile", "--road-speed", "20 mph"], "per lane"),
    ("spread-rate", ["--discharge", "200 lb/min", "--road-speed", "0 mph"], "no finite answer"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "args", "message"), ERRORS, ids=[f"{e[0]}-{i}" for i, e in enumerate(ERRORS)]
)
@pytest.mark.parametrize("form", [[], ["--json"]], ids=["text", "json"])
def test_an_error_is_one_line(
    hydrocheck_cli: Run, name: str, args: list[str], message: str, form: list[str]
) -> None:
    result = hydrocheck_cli("calc", name, *form, *args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("error: ")
    assert result.stderr.count("\n") == 1
    assert message in result.stderr


def test_an_unknown_formula_suggests_the_near_miss(hydrocheck_cli: Run) -> None:
    result = hydrocheck_cli("calc", "pump-flwo")
    assert result.exit_code == 2
    assert "Did you mean pump-flow" in result.stderr


@pytest.mark.parametrize("name", FORMULAS)
def test_help(hydrocheck_cli: Run, name: str) -> None:
    result = hydrocheck_cli("calc", name, "--help")
    assert result.exit_code == 0
    assert all(len(line) <= 80 for line in result.stdout.splitlines())
    for item in FORMULAS[name].inputs:
        assert item.option in result.stdout
    for way in FORMULAS[name].ways:
        assert way.law in " ".join(result.stdout.split())


def test_help_of_the_group_lists_every_formula_and_loads_no_numpy(hydrocheck_cli: Run) -> None:
    listed = hydrocheck_cli("calc", "--help").stdout
    assert all(f"  {name} " in listed for name in FORMULAS)
    code = (
        "import sys; from hydrocheck.cli import main\n"
        "try: main(['calc', 'pump-flow', '--help'])\n"
        "finally: sys.stderr.write(' '.join(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "pint", "matplotlib"} & set(done.stderr.split())


@pytest.mark.parametrize("formula", FORMULAS.values(), ids=str)
def test_a_formula_is_well_formed(formula: Any) -> None:
    names = [item.name for item in formula.inputs]
    assert len(names) == len(set(names))
    assert {name for way in formula.ways for name in way.takes} == set(names)
    for way in formula.ways:
        assert way.source
        assert formula.needs(way)
    assert all(item.kind in KINDS for item in formula.inputs)
    outputs = [output for way in formula.ways for output in way.gives]
    assert all(output.kind in KINDS or not output.kind for output in outputs)


def test_python_calls_have_the_same_errors() -> None:
    with pytest.raises(DomainError, match="no formula"):
        calculate("pump-flwo")
    with pytest.raises(DomainError, match="takes no 'sped'"):
        calculate("pump-flow", sped="1000 rpm")
    with pytest.raises(UnitError, match="no unit"):
        calculate("pump-flow", speed="1000")
