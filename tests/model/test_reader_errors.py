"""What the reader says: line, key, what was read, what fits."""

from __future__ import annotations

from pathlib import Path

import pytest

from hydrocheck import demo
from hydrocheck.errors import FileError, TruckFileError
from hydrocheck.model import Truck, read_truck, truck_from_text
from hydrocheck.model.files import LARGEST, read_text
from hydrocheck.model.reader import MOST_PARTS

HEAD = 'schema = 1\n[truck]\nname = "x"\n'  # what follows begins on line 4


def errors(text: str) -> tuple[str, ...]:
    """The lines of the error that reading raises."""
    with pytest.raises(TruckFileError) as caught:
        truck_from_text(text)
    lines = caught.value.lines
    assert all(line.isprintable() for line in lines)
    assert all(len(line) < 700 for line in lines)
    return lines


def error(text: str) -> str:
    """The only error."""
    lines = errors(text)
    assert len(lines) == 1, lines
    return lines[0]


def test_the_least_truck_file() -> None:
    truck = truck_from_text(HEAD)
    assert (truck.name, truck.pump, truck.engine.idle) == ("x", (), None)


@pytest.mark.parametrize(
    ("body", "line", "key", "read", "fits"),
    [
        # a bare number where a unit is needed, of each TOML type
        ("[engine]\nidle = 700", 5, "engine.idle", "700, a number without", "rpm, rev/s, rad/s"),
        ("[engine]\nidle = 700.5", 5, "engine.idle", "700.5, a number without", "rpm"),
        ("[engine]\nidle = -0x10", 5, "", "not TOML", ""),
        ("[engine]\nidle = true", 5, "engine.idle", "read true", "rpm"),
        ("[engine]\nidle = 1979-05-27T07:32:00Z", 5, "engine.idle", "1979-05-27 07:32:00", "rpm"),
        ("[engine]\nidle = 1979-05-27", 5, "engine.idle", "1979-05-27", "rpm"),
        ("[engine]\nidle = 07:32:00", 5, "engine.idle", "07:32:00", "rpm"),
        ("[engine]\nidle = [700]", 5, "engine.idle", "a list", "rpm"),
        ('[engine]\nidle = { a = "700 rpm" }', 5, "engine.idle", "a table", "rpm"),
        ("[engine.idle]", 4, "engine.idle", "a table", "rpm"),
        # units
        ('[engine]\nidle = "700"', 5, "engine.idle", "'700': no unit", "rpm"),
        ('[engine]\nidle = "700 rmp"', 5, "engine.idle", "'700 rmp'", "takes rpm"),
        ('[engine]\nidle = "700 psi"', 5, "engine.idle", "a unit of pressure", "rpm"),
        ('[oil]\ngrade = "nan cSt"', 5, "oil.grade", "nan", "finite"),
        ('[oil]\ngrade = "-inf cSt"', 5, "oil.grade", "inf", "finite"),
        ('[oil]\ngrade = "0 cSt"', 5, "oil.grade", "'0 cSt'", "above zero"),
        ('[oil]\ncold = "-500 degF"', 5, "oil.cold", "-500 degF", "absolute zero"),
        ("[oil]\nviscosity_index = nan", 5, "oil.viscosity_index", "nan", "finite"),
        ("[oil]\nviscosity_index = -inf", 5, "oil.viscosity_index", "inf", "finite"),
        ("[oil]\nviscosity_index = true", 5, "oil.viscosity_index", "true", "plain number"),
        ("[engine.drive]\nratio = 0", 5, "engine.drive.ratio", "'0'", "above zero"),
        ("[limits]\ndrive_duty = 1.5", 5, "limits.drive_duty", "1.5", "percent"),
        ('[limits]\ndrive_duty = "101 %"', 5, "limits.drive_duty", "101 %", "at most 100 %"),
        # keys
        ("[engine]\nidel = 1", 5, "engine.idel", "unknown key", "did you mean 'idle'?"),
        ("[engine]\nxyz = 1", 5, "engine.xyz", "unknown key", "governed"),
        ("[pumpp]", 4, "pumpp", "unknown key", "did you mean 'pump'?"),
        ('[[pump]]\ntype = "fixed"', 4, "pump.name", "missing", "name"),
        ('[[pump]]\nname = "p"', 4, "p.type", "missing", "how it delivers"),
        # bands, lists, pairs
        ('[engine]\nworking = "1200 rpm"', 5, "engine.working", "'1200 rpm'", "low and high"),
        ('[engine]\nworking = ["1 rpm"]', 5, "engine.working", "a list", "low and high"),
        ('[engine]\nworking = ["2 rpm", "1 rpm"]', 5, "engine.working", "'2 rpm'", "low end"),
        ('[engine]\nworking = ["1 rpm", 2]', 5, "engine.working", "2, a number", "rpm"),
        ('[engine]\nworking = ["1 rpm +/- 5 %", "2 rpm"]', 5, "engine.working", "+/-", "tolerance"),
        ('[spreading]\nrates = "1 lb/mile"', 5, "spreading.rates", "'1 lb/mile'", "a list"),
        ("[spreading]\nrates = [\n\n 1]", 7, "spreading.rates", "1, a number", "lb/lane-mile"),
        ('[engine]\ntorque_curve = ["1 rpm"]', 5, "engine.torque_curve", "'1 rpm'", "a pair"),
        ('[engine]\ntorque_curve = [["1 rpm"]]', 5, "engine.torque_curve", "a list", "a pair"),
        (
            '[engine]\ntorque_curve = [["2 rpm", "1 N m"],\n["1 rpm", "1 N m"]]',
            6, "engine.torque_curve", "'1 rpm'", "must rise",
        ),
        # words, flags, counts, texts
        ('[[pump]]\nname = "p"\ntype = "fixd"', 6, "p.type", "'fixd'", "did you mean 'fixed'?"),
        ('[[pump]]\nname = "p"\ntype = ["fixed"]', 6, "p.type", "a list", "load sensing"),
        ("[full_discharge]\nfrom_rest = 1", 5, "full_discharge.from_rest", "1", "true, false"),
        ('[full_discharge]\nengine = "idel"', 5, "full_discharge.engine", "'idel'", "idle"),
        ("[full_discharge]\nengine = 1200", 5, "full_discharge.engine", "1200", "working"),
        ('[full_discharge]\nengine = "-5 rpm"', 5, "full_discharge.engine", "-5", "above zero"),
        ("[spreading]\nlanes = 0", 5, "spreading.lanes", "0", "1 to 100"),
        ("[spreading]\nlanes = true", 5, "spreading.lanes", "true", "whole number"),
        ("[spreading]\nlanes = 1.5", 5, "spreading.lanes", "1.5", "whole number"),
        ('[spreading]\nlanes = "2"', 5, "spreading.lanes", "'2'", "whole number"),
        ("[spreading]\nmaterial = 1", 5, "spreading.material", "1", "a text"),
        ('[[pump]]\nname = " "\ntype = "fixed"', 5, "pump.name", "' '", "a text"),
        ('[[pump]]\nname = "p"\ntype = "fixed"\nfeeds = "b"', 7, "p.feeds", "'b'", "list of names"),
        ('[[pump]]\nname = "p"\ntype = "fixed"\nfeeds = [1]', 7, "p.feeds", "1", "a text"),
        # control characters
        ('[spreading]\nmaterial = "a\\u001b[31m"', 5, "spreading.material", "\\x1b", "control"),
        ('[[pump]]\nname = "a\\u0007"\ntype = "fixed"', 5, "a\\x07.name", "\\x07", "control"),
        ('[lines."a\\nb"]', 4, "lines", "'a\\nb'", "control"),
        ('[lines.""]', 4, "lines", "''", "1 to 200 characters"),
        # tables and values in each other's places
        ("engine = 1", 4, "truck.engine", "unknown key", "name"),
        ('[lines]\nx = "1 in"', 5, "lines.x", "'1 in'", "a table"),
        ('[[lines]]\nbore = "1 in"', 4, "lines", "a list", "names of your own"),
        ("[[engine]]", 4, "engine", "a list", "a table"),
    ],
)  # fmt: skip
def test_one_error(body: str, line: int, key: str, read: str, fits: str) -> None:
    message = error(f"{HEAD}{body}\n")
    assert message.startswith(f"line {line}: {key}" + (": " if key else "")), message
    assert read in message
    assert fits in message


@pytest.mark.parametrize(
    ("top", "read"),
    [
        ("", "nothing"),
        ("schema = 2", "2"),
        ("schema = 1.0", "1.0"),
        ("schema = true", "true"),
        ('schema = "1"', "'1'"),
        ("schema = [1]", "a list"),
        ("schema = {}", "a table"),
        ("schema = nan", "nan"),
        ("schema = 0x" + "f" * 9000, "a number of more than 40 digits"),
    ],
)
def test_the_schema_number(top: str, read: str) -> None:
    message = error(f'{top}\n[truck]\nname = "x"\n')
    assert message == f"line 1: schema: read {read}; fits: schema = 1"


def test_a_missing_truck_table_is_said_with_the_rest() -> None:
    lines = errors("[engine]\nidle = 1\n")
    assert [line.split(": ")[1] for line in lines] == ["schema", "truck", "engine.idle"]


@pytest.mark.parametrize(
    ("text", "value"),
    [("1.2", 1.2), ("2", 2.0), ('"1.2"', 1.2), ('"25:1"', 25.0), ("120e-2", 1.2)],
)
def test_a_plain_number_is_a_ratio(text: str, value: float) -> None:
    truck = truck_from_text(f"{HEAD}[engine.drive]\nratio = {text}\n")
    assert truck.engine.drive.ratio == pytest.approx(value)


@pytest.mark.parametrize("text", ["0.85", '"85 %"', '"0.85"'])
def test_a_plain_number_is_a_fraction(text: str) -> None:
    truck = truck_from_text(f"{HEAD}[limits]\ndrive_duty = {text}\n")
    assert truck.limits.drive_duty == pytest.approx(0.85)


def test_all_errors_at_once_in_the_order_of_the_file() -> None:
    keys = [f"idle{i:02}" for i in range(30)]
    body = "[engine]\n" + "".join(f"{key} = 1\n" for key in keys)
    lines = errors(HEAD + body + '[oil]\ngrade = 32\ncold = "1 psi"\n')
    assert len(lines) == 32
    assert [int(line.split(":")[0].removeprefix("line ")) for line in lines] == [
        *range(5, 35), 36, 37,
    ]  # fmt: skip


def test_wrong_values_and_misfits_come_together_without_what_follows_from_them() -> None:
    lines = errors(f"""{HEAD}
[engine]
idle = "900 rpm"
working = ["800 rpm", "1000 rpm"]
governed = "2000 rmp"
[[function]]
name = "auger"
kind = "feeder"
bank = "nowhere"
[function.motor.load]
constant = "10 rpm"
""")
    assert len(lines) == 4
    assert "line 7: engine.working: lies below engine.idle" in lines[0]
    assert "line 8: engine.governed: read '2000 rmp'" in lines[1]
    assert "line 12: auger.bank: read 'nowhere'; no such bank; there is: none" in lines[2]
    assert "line 14: auger.motor.load.constant: read '10 rpm'" in lines[3]


# --- what must hold between values ------------------------------------------------------------

PUMP = '[[pump]]\nname = "p"\ntype = "fixed"\n'
FEEDER = '[[function]]\nname = "auger"\nkind = "feeder"\n'
SPINNER = '[[function]]\nname = "spinner"\nkind = "spinner"\n'
PLOW = '[[function]]\nname = "plow"\nkind = "cylinder"\n'
RUN = '[[scenario]]\nname = "s"\n[scenario.run]\n'


@pytest.mark.parametrize(
    ("body", "line", "message"),
    [
        ('[engine]\nidle = "9 rpm"\ngoverned = "8 rpm"', 6, "engine.governed: lies below"),
        ('[engine]\ngoverned = "9 rpm"\noverrun = "8 rpm"', 6, "engine.overrun: lies below"),
        ('[oil]\ncold = "9 degC"\nhot = "8 degC"', 6, "oil.hot: lies below oil.cold"),
        (
            '[oil]\ngrade = "32 cSt"\npoint = [{temperature = "1 degC", viscosity = "9 cSt"}, '
            '{temperature = "2 degC", viscosity = "8 cSt"}]',
            6, "oil.point: two measured points stand in place of",
        ),
        ('[[oil.point]]\ntemperature = "1 degC"\nviscosity = "9 cSt"', 4, "oil.point: read 1"),
        (
            '[[oil.point]]\ntemperature = "1 degC"\nviscosity = "9 cSt"\n'
            '[[oil.point]]\ntemperature = "2 degC"\nviscosity = "9 cSt"',
            4, "oil.point: the warmer point",
        ),
        (PUMP + 'feeds = ["b"]', 7, "p.feeds: read 'b'; no such bank"),
        (PUMP.replace('"p"', '"a.b"'), 5, "a.b.name: a name must not hold a point"),
        (PUMP.replace('"p"', '"oil"'), 5, "oil.name: 'oil' is a word of the file"),
        (f'{FEEDER}[lines.auger]\nrole = "return"', 7, "lines.auger: 'auger' is also"),
        (f'{FEEDER}[lines."a.b"]\nrole = "return"', 7, "lines.a.b: a name must not hold a point"),
        ('[lines.x]\nbore = "1 in"', 4, "lines.x.role: missing; here fits: suction"),
        ('[lines.x]\nrole = "work supply"', 4, "lines.x.of: missing"),
        ('[lines.suction]\nof = "q"', 5, "lines.suction.of: read 'q'; no such pump"),
        (
            '[lines.return]\n[lines.second]\nrole = "return"',
            5, "lines.second: lines.return is the return line already",
        ),
        (
            '[lines.return.filter]\nrated_flow = "1 gpm"\nrated_drop = "1 psi"\n'
            'bypass_cracking = "9 psi"\nbypass_full = "8 psi"',
            8, "lines.return.filter.bypass_full: must lie above",
        ),
        (
            '[lines.return.filter]\nrated_flow = "1 gpm"\nrated_drop = "1 psi"\n'
            'bypass_full = "8 psi"',
            4, "lines.return.filter.bypass_cracking: missing",
        ),
        (
            '[[relief]]\nname = "r"\nat = "bank inlet"\nof = "b"',
            7, "r.of: read 'b'; no such bank",
        ),
        (
            PUMP + '[[relief]]\nname = "r"\nat = "pump"\nof = "p"\nsetting = "9 psi"\n'
            'cracking = "9 psi"',
            12, "r.cracking: must lie below the setting",
        ),
        (FEEDER + 'flow = "1 gpm"\n[function.motor]', 4, "auger: has motor, flow; one of"),
        (FEEDER + "[function.disc]", 7, "auger.disc: a disc fits a spinner; 'auger' is a feeder"),
        (SPINNER + '[function.disc]\ntilt = "46 deg"', 8, "tilt: is more than 45 degrees"),
        (SPINNER + '[function.disc]\nexit_elevation = "-61 deg"', 8, "more than 60 degrees"),
        (SPINNER + '[function.disc]\nvane_angle = "1.1 rad"', 8, "vane_angle: is more than 60"),
        (SPINNER + '[function.disc]\nfan = "181 deg"', 8, "fan: is more than 180 degrees"),
        (SPINNER + '[function.disc]\nfan = "0 deg"', 8, "fan: read '0 deg'; must be above zero"),
        (SPINNER + '[function.disc]\nhigh_side = "top"', 8, "here fits: left, right, rear, front"),
        (FEEDER + '[function.section]\ndeadband = "100 %"', 8, "auger.section.deadband: must lie"),
        (FEEDER + "[function.motor]\n[function.motor.load]", 8, "auger.motor.load: is empty"),
        (
            FEEDER + '[function.motor.load]\npressure = "1 psi"\nconstant = "1 N m"',
            7, "auger.motor.load: has pressure and constant",
        ),
        (
            FEEDER + '[[function.motor]]\n[[function.motor]]\nload = { linear = "1 N m" }',
            9, "auger.motor[2].load.at: missing",
        ),
        (
            FEEDER + '[function.motor]\ndisplacement = "1 in3/rev"\n'
            'derived_displacement = "2 in3/rev"\nvolumetric_efficiency = "90 %"',
            9, "auger.motor.derived_displacement: is larger",
        ),
        (
            PUMP + 'displacement = "2 in3/rev"\nderived_displacement = "1 in3/rev"\n'
            'volumetric_efficiency = "90 %"',
            8, "p.derived_displacement: is smaller",
        ),
        (PLOW + '[function.cylinder]\nbore = "1 in"\nrod = "1 in"', 9, "plow.cylinder.rod: must"),
        (RUN + 'x = { speed = "1 rpm" }', 7, "scenario.s.run.x: read 'x'; no such function"),
        (FEEDER + RUN + "auger = {}", 10, "scenario.s.run.auger: gives nothing; exactly one"),
        (
            FEEDER + RUN + 'auger = { speed = "1 rpm", flow = "1 gpm" }',
            10, "scenario.s.run.auger: gives speed, flow; exactly one",
        ),
        (
            FEEDER + RUN + 'auger = { rate = "1 lb/lane-mile" }',
            10, "scenario.s.run.auger: an ordered rate needs its road_speed",
        ),
        (
            PLOW + RUN + 'plow = { rate = "1 lb/lane-mile", road_speed = "1 mph" }',
            10, "scenario.s.run.plow: an ordered rate fits a feeder",
        ),
        (FEEDER + RUN + 'auger = { motion = "extend" }', 10, "a motion fits a function with"),
        (
            PLOW + "cylinder = {}\n" + RUN + 'plow = { speed = "1 rpm" }',
            11, "a shaft speed does not fit a cylinder",
        ),
        ('[[scenario]]\nname = "s"\n' * 2, 4, "scenario: 's' is used 2 times"),
        (PUMP + 'feeds = ["p", "p"]\n[[bank]]\nname = "b"\ntype = "parallel"', 7, "p.feeds: "),
        (
            FEEDER + '[[link]]\nfunction = "auger"\nfollows = "auger"',
            7, "link: 'auger' cannot follow itself",
        ),
        ('[spreading.auger]\ndiameter = "4 in"\npitch = "4 in"\nshaft = "4 in"', 7, "spreading.au"),
    ],
)  # fmt: skip
def test_what_does_not_fit_together(body: str, line: int, message: str) -> None:
    lines = errors(f"{HEAD}{body}\n")
    assert any(one.startswith(f"line {line}: ") and message in one for one in lines), lines


def test_each_of_two_equal_names_is_shown() -> None:
    lines = errors(f'{HEAD}{PUMP}\n[[bank]]\nname = "p"\ntype = "parallel"\n')
    assert [line.split(":")[0] for line in lines] == ["line 5", "line 9"]
    assert all("used twice" in line for line in lines)


def test_too_many_parts_are_one_error() -> None:
    message = error(HEAD + "[[pump]]\n" * (MOST_PARTS + 1))
    assert message == f"line 4: pump: read {MOST_PARTS + 1} items; at most {MOST_PARTS} fit"


def test_a_long_list_of_references_is_cut() -> None:
    pumps = "".join(f'[[pump]]\nname = "p{i}"\ntype = "fixed"\n' for i in range(40))
    message = error(f'{HEAD}{pumps}[lines.suction]\nof = "q"\n')
    assert message.endswith("there is: " + ", ".join(f"p{i}" for i in range(10)) + ", ...")


# --- defaults and tolerances ------------------------------------------------------------------


def test_defaults_and_tolerances_are_paths_of_the_circuit() -> None:
    truck = demo.load("tandem")
    assert "oil.density" in truck.defaults_used
    assert "lines.suction.roughness" in truck.defaults_used
    assert "pump.displacement" in truck.tolerances
    for key in truck.tolerances:
        assert isinstance(truck.vary(key, 0.5), Truck)


def test_a_given_value_is_no_default() -> None:
    given = truck_from_text(f'{HEAD}[oil]\ndensity = "870 kg/m3"\n')
    assert "oil.density" not in given.defaults_used
    assert "oil.density" in truck_from_text(HEAD).defaults_used


# --- files ------------------------------------------------------------------------------------


def file_error(path: Path | str) -> str:
    with pytest.raises(FileError) as caught:
        read_truck(path)
    message = str(caught.value)
    assert "\n" not in message.removeprefix(str(path))
    return message


def test_a_byte_order_mark_and_carriage_returns_are_taken(tmp_path: Path) -> None:
    file = tmp_path / "bom.toml"
    file.write_bytes(b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode())
    assert read_truck(file).name == "x"


def test_carriage_returns_and_line_separators_do_not_shift_lines() -> None:
    assert error(f"{HEAD}[engine]\nbad = 1\n".replace("\n", "\r\n")).startswith("line 5: ")
    assert error(f"# \u2028 \x85\n{HEAD}[engine]\nbad = 1\n").startswith("line 6: ")


def test_what_is_no_readable_file(tmp_path: Path) -> None:
    assert "is a folder" in file_error(tmp_path)
    assert "No such file" in file_error(tmp_path / "none.toml")
    assert "cannot be read" in file_error("a\0b.toml")
    assert "cannot be read" in file_error("x" * 5000)
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'schema = 1\n[truck]\nname = "J\xf6rdis"\n')
    assert "line 3: not UTF-8" in file_error(latin)
    wide = tmp_path / "wide.toml"
    wide.write_text(HEAD, encoding="utf-16")
    assert "not UTF-8" in file_error(wide)


def test_an_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "secret.toml"
    file.write_text(HEAD)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)  # the tests may run as root, who reads all
    assert file_error(file).endswith("cannot be read: Permission denied")


@pytest.mark.parametrize("text", ["", "\n\n", " \t\r\n"])
def test_an_empty_file(text: str) -> None:
    assert "the file is empty" in error(text)


def test_a_large_file_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "large.toml"
    with file.open("wb") as stream:
        stream.truncate(100_000_000)  # sparse: it takes no room
    with monkeypatch.context() as patch:
        patch.delattr(Path, "open")
        assert "100 MB; a truck file has at most 1 MB" in file_error(file)


def test_the_largest_file_is_read(tmp_path: Path) -> None:
    file = tmp_path / "full.toml"
    text = HEAD + "#" * (LARGEST - len(HEAD))
    file.write_text(text)
    assert read_text(file, "a truck file") == text
    file.write_text(text + "#")
    assert "at most 1 MB" in file_error(file)
