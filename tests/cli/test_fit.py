"""`hydrocheck fit`: text, truck-file keys, JSON, units, and one line for what is wrong."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from hydrocheck.units import parse

Run = Callable[..., Result]

# Textbook chapter on gear pumps, republished as a web tutorial (2010, 2012): 4.53 in3 a turn.
METRIC = """speed [rpm], pressure [bar], flow [L/min]
1200, 34.473786, 81.95
1200, 172.36893, 69.48
1800, 34.473786, 124.27
1800, 103.42136, 118.52
1800, 172.36893, 112.24
"""
US = """# the same in other units and another order
flow [gal/min], speed [rev/s], pressure [psi], note
31.309671, 30, 1500, middle

21.648900, 20, 500,
18.354674, 20, 2500,
32.828661, 30, 500,
29.650672, 30, 2500,
"""


@pytest.fixture
def gear(tmp_path: Path) -> str:
    path = tmp_path / "gear.csv"
    path.write_text(METRIC, encoding="utf-8")
    return str(path)


def result_of(run: Result) -> dict[str, object]:
    assert run.exit_code == 0, run.output
    document = json.loads(run.stdout)
    assert document["command"] == "fit"
    assert document["truck"] is None
    result = document["result"]
    assert isinstance(result, dict)
    return result


def test_text(hydrocheck_cli: Run, gear: str) -> None:
    run = hydrocheck_cli("fit", gear, "--machine", "pump", "--nominal", "4.53 in^3/rev")
    assert run.exit_code == 0
    assert "the nominal displacement does not fit" in " ".join(run.output.split())
    assert "viscous share of slip: the points have no viscosity" in run.output
    assert max(len(line) for line in run.output.splitlines()) <= 80
    assert run.output.isascii()


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_keys_can_be_pasted(hydrocheck_cli: Run, gear: str, units: str) -> None:
    args = ("fit", gear, "--machine", "pump", "--nominal", "4.53 in^3/rev", "--units", units)
    text = hydrocheck_cli(*args).output
    keys = tomllib.loads(text.partition("For the pump in a truck file\n")[2])
    wanted = result_of(hydrocheck_cli(*args, "--json"))["truck_file"]
    assert isinstance(wanted, dict)
    assert set(keys) == set(wanted)
    kinds = {"m3/rad": "displacement", "rad/s": "shaft_speed", "Pa": "pressure",
             "m2/s": "kinematic_viscosity", "1": "fraction"}  # fmt: skip
    for key, value in keys.items():
        got = parse(value, kinds[wanted[key]["unit"]])
        assert got == pytest.approx(wanted[key]["si"], rel=1e-4), key


def test_units_and_order_of_the_file_do_not_matter(
    hydrocheck_cli: Run, gear: str, tmp_path: Path
) -> None:
    other = tmp_path / "us.csv"
    other.write_text(US, encoding="utf-8")
    one = result_of(hydrocheck_cli("fit", gear, "--machine", "pump", "--json"))
    two = result_of(hydrocheck_cli("fit", str(other), "--machine", "pump", "--json"))
    for key in ("displacement", "slip_conductance", "flow_rms"):
        assert two[key]["si"] == pytest.approx(one[key]["si"], rel=1e-4), key  # type: ignore[index]  # JSON is untyped
    assert sorted(two["points"]["speed"]["si"]) == pytest.approx(  # type: ignore[index]  # JSON is untyped
        sorted(one["points"]["speed"]["si"])  # type: ignore[index]  # JSON is untyped
    )


def test_json_names_the_defaults(hydrocheck_cli: Run, gear: str) -> None:
    document = json.loads(hydrocheck_cli("fit", gear, "--machine", "pump", "--json").stdout)
    assert document["defaults_used"] == ["pump.rated_viscosity", "pump.viscous_slip_share"]
    result = document["result"]
    assert result["displacement_error"]["si"] > 0.0
    assert result["viscous_slip_share_error"] is None
    assert result["torque"] is None
    assert result["nominal"] is None
    assert len(result["points"]["flow_residual"]["si"]) == 5


def test_torque_and_temperature(hydrocheck_cli: Run, tmp_path: Path) -> None:
    # D = 50 cm3/rev: T = D dp (1 + 0.05), Q = D n - 0.02 L/min/bar dp, no drag.
    rows = [
        f"{n},{dp},{0.05 * n - 0.02 * dp},{50e-6 / 6.283185307 * dp * 1e5 * 1.05},{t}"
        for n, t in ((1000, 30), (2000, 60))
        for dp in (50, 150)
    ]
    file = tmp_path / "torque.csv"
    head = "speed [rpm],pressure [bar],flow [L/min],torque [N m],temperature [degC]"
    file.write_text("\n".join([head, *rows]), encoding="utf-8")
    args = ("fit", str(file), "--machine", "pump", "--units", "metric")
    for told in (
        ("--grade", "46 cSt", "--viscosity-index", "100"),
        ("--oil", "40 degC = 46 cSt", "--oil", "100 degC = 6.8 cSt"),
    ):
        result = result_of(hydrocheck_cli(*args, *told, "--json"))
        keys = result["truck_file"]
        assert keys["hydromechanical_efficiency"]["si"] == pytest.approx(1 / 1.05, rel=1e-6)  # type: ignore[index]  # JSON is untyped
        assert keys["viscous_slip_share"]["si"] == pytest.approx(0.0, abs=1e-6)  # type: ignore[index]  # JSON is untyped
    run = hydrocheck_cli(*args, "--grade", "46 cSt", "--viscosity-index", "100")
    assert "Torque by point" in run.output
    assert max(len(line) for line in run.output.splitlines()) <= 80
    keys = tomllib.loads(run.output.partition("For the pump in a truck file\n")[2])
    assert parse(keys["viscous_slip_share"], "fraction") == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--nominal", "4.53 psi"), "takes in3/rev"),
        (("--nominal", "0 in3/rev"), "must be above zero"),
        (("--rated-speed", "1800"), "no unit"),
        (("--grade", "46 cSt"), "by --oil twice"),
        (("--oil", "40 degC = 46 cSt"), "by --oil twice"),
        (("--oil", "40 degC", "--oil", "100 degC = 7 cSt"), "write TEMP=VISC"),
        (("--oil", "40 degC=46 cSt", "--oil", "40 degC=7 cSt"), "different temperatures"),
    ],
)
def test_bad_options_are_one_line(
    hydrocheck_cli: Run, gear: str, args: tuple[str, ...], words: str
) -> None:
    run = hydrocheck_cli("fit", gear, "--machine", "pump", *args)
    assert run.exit_code == 2
    assert run.stderr.startswith("error: ")
    assert len(run.stderr.splitlines()) == 1
    assert words in run.stderr


def test_bad_rows_are_listed(hydrocheck_cli: Run, tmp_path: Path) -> None:
    file = tmp_path / "bad.csv"
    file.write_text("speed [rpm],pressure [psi],flow [gpm]\na,1,1\n1,b,1\n1,1\n", encoding="utf-8")
    run = hydrocheck_cli("fit", str(file), "--machine", "pump")
    assert run.exit_code == 2
    lines = run.stderr.splitlines()
    assert [line[:14] for line in lines] == ["error: line 2:", "error: line 3:", "error: line 4:"]


def test_a_motor_taken_for_a_pump_is_refused(hydrocheck_cli: Run, gear: str) -> None:
    run = hydrocheck_cli("fit", gear, "--machine", "motor")
    assert run.exit_code == 2
    assert "above 100 %" in run.stderr
