"""The demo trucks: there, in order, readable, and as consistent as their comments say."""

from __future__ import annotations

import re
from math import pi
from pathlib import Path

import pytest

from hydrocheck import demo
from hydrocheck.errors import FileError
from hydrocheck.model import Truck
from hydrocheck.units import to_unit


def test_names_begin_with_the_default() -> None:
    assert demo.names()[:3] == ("tandem", "single", "conveyor")
    assert len(set(demo.names())) == len(demo.names())


def test_names_go_by_the_files_there_are(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("zeta", "conveyor", "alpha", "single"):
        (tmp_path / f"{name}.toml").touch()
    monkeypatch.setattr(demo, "FOLDER", tmp_path)
    assert demo.names() == ("single", "conveyor", "alpha", "zeta")


@pytest.mark.parametrize("name", ["", "tandem.toml", "../demo/tandem", "TANDEM", "x" * 999])
def test_an_unknown_name_says_which_there_are(name: str) -> None:
    for function in (demo.path, demo.text, demo.load):
        with pytest.raises(FileError, match=r"there are: tandem, single, conveyor") as caught:
            function(name)
        assert len(str(caught.value)) < 200


@pytest.mark.parametrize("name", demo.names())
def test_each_reads_and_is_of_the_invented_county(name: str) -> None:
    truck = demo.load(name)
    assert truck.name.startswith("Alder Fork ")
    assert truck.truck.about
    assert demo.path(name).read_text(encoding="utf-8") == demo.text(name)
    assert demo.text(name).isascii()


SOUND = [name for name in demo.names() if name != "mistakes"]


@pytest.fixture(params=SOUND)
def truck(request: pytest.FixtureRequest) -> Truck:
    return demo.load(request.param)


def given(value: object) -> float:
    """A value that a demo truck must give."""
    assert isinstance(value, float)
    return value


def test_the_settings_stand_in_order(truck: Truck) -> None:
    (relief,), pump = truck.relief, truck.pump[0]
    # A pilot relief cracks at 0.95 of its setting; the compensator stays 100-150 psi (at least
    # 0.69 MPa) below (trade column).
    cracking = 0.95 * given(relief.setting)
    if pump.type == "load sensing":
        assert given(pump.compensator) <= cracking - 0.68e6
        assert given(pump.margin) > given(truck.bank[0].section_drop)
    assert given(relief.setting) <= given(pump.max_pressure)
    assert given(relief.setting) <= given(truck.bank[0].max_pressure)
    # FED-STD-807, p. 10: the relief setting is at most the rating of the weakest part.
    for function in truck.function:
        parts = [function.max_pressure, *(m.max_pressure for m in function.motor)]
        for rating in parts:
            assert rating is None or given(relief.setting) <= rating


def test_the_suction_hose_keeps_4_ft_per_s(truck: Truck) -> None:
    # FED-STD-794, p. 10, at the highest speed with the drive engaged.
    drive, pump = truck.engine.drive, truck.pump[0]
    top = drive.engaged_to if drive.engaged_to is not None else truck.engine.overrun
    flow = given(pump.displacement) * given(top) * given(drive.ratio)
    assert given(top) * given(drive.ratio) <= given(pump.max_speed)
    (suction,) = [line for line in truck.lines if line.name == "suction"]
    assert flow / (pi * given(suction.bore) ** 2 / 4) <= 4 * 0.3048


def test_the_drive_carries_the_pump_by_the_federal_rule(truck: Truck) -> None:
    # FED-STD-794, p. 10: rating at least 1.5 P Q / 0.85, P the highest pressure, Q the full flow.
    drive, pump = truck.engine.drive, truck.pump[0]
    pressure = given(pump.compensator or truck.relief[0].setting)
    torque = pressure * given(pump.displacement) / given(pump.hydromechanical_efficiency)
    assert torque <= given(drive.torque_rating)
    if truck.name.startswith("Alder Fork 27"):
        return  # the tandem's margin on power is its own example
    top = drive.engaged_to if drive.engaged_to is not None else truck.engine.overrun
    flow = given(pump.displacement) * given(top) * given(drive.ratio)
    assert 1.5 * pressure * flow / 0.85 <= given(drive.power_rating)


@pytest.mark.parametrize("name", ["single", "conveyor"])
def test_the_arithmetic_in_the_comments(name: str) -> None:
    """Each motor's "R rpm asks F gpm" and "P psi at R rpm" is what its numbers give."""
    truck, text = demo.load(name), demo.text(name)
    for function in truck.function:
        for motor in function.motor:
            block = text.split(f'name = "{function.name}"')[1].split("[[function]]")[0]
            for rpm, gpm in re.findall(r"([0-9]+) rpm asks ([0-9.]+) gpm", block):
                flow = given(motor.displacement) * float(rpm) * pi / 30
                assert to_unit(flow, "flow", "gpm") == pytest.approx(float(gpm), rel=0.01)
            psi, rpm = re.findall(r"([0-9]+) psi(?: at ([0-9]+) rpm)?", block)[-1]
            load = motor.load
            assert load is not None
            whole = given(load.constant) + (load.linear or 0.0) + (load.square or 0.0)
            shaft = whole / given(motor.gearbox_ratio) / given(motor.gearbox_efficiency)
            drop = shaft / (given(motor.displacement) * given(motor.hydromechanical_efficiency))
            if "starts at" not in block:
                assert to_unit(drop, "pressure", "psi") == pytest.approx(float(psi), rel=0.01)


def test_the_conveyor_turn_discharges_14_lb() -> None:
    truck = demo.load("conveyor")
    bed = truck.spreading.conveyor
    assert bed is not None
    volume = given(bed.width) * given(bed.gate) * given(bed.feed)
    mass = volume * given(truck.spreading.density)
    assert mass / 0.45359237 == pytest.approx(14.0, rel=0.005)
    assert truck.function[0].motor[0].gearbox_ratio == 25.0


def test_what_the_two_new_trucks_lack() -> None:
    for name in ("single", "conveyor"):
        assert demo.load(name).function_named("liquid").fitted is False
    single, conveyor = demo.load("single"), demo.load("conveyor")
    assert (single.pump[0].type, single.bank[0].type) == ("fixed", "open centre")
    assert single.bank[0].order == ("auger", "spinner", "plow")
    assert (conveyor.pump[0].type, conveyor.bank[0].type) == ("load sensing", "parallel")
