"""A truck from a few known numbers: the rest is assumed, said, and varied far.

The assumed values are a usual single auger truck (common practice); what follows from them is worth
no more than that.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from hydrocheck.errors import DomainError, TruckFileError, UnitError
from hydrocheck.model import truck_from_text
from hydrocheck.model.truck import Truck
from hydrocheck.units import parse


@dataclass(frozen=True)
class Known:
    """A number that a mechanic may know: its kind, its paths in a truck, what stands without it."""

    kind: str
    paths: tuple[str, ...]
    otherwise: str


KNOWN: Mapping[str, Known] = {
    "engine speed": Known("shaft_speed", (), "1300 rpm"),
    "drive ratio": Known("ratio", ("engine.drive.ratio",), "1.0"),
    "pump displacement": Known("displacement", ("pump.displacement",), "3.6 in^3/rev"),
    "auger displacement": Known("displacement", ("auger.motor.displacement",), "20 in^3/rev"),
    "auger flow": Known("flow", ("auger.section.rated_flow",), "12 gpm"),
    "auger deadband": Known("fraction", ("auger.section.deadband",), "28 %"),
    "auger command": Known("fraction", (), "60 %"),
    "auger pressure": Known("pressure_drop", ("auger.motor.load.constant",), "700 psi"),
    "LS margin": Known("pressure", ("pump.margin",), "300 psi"),
    "standby": Known("pressure", ("pump.standby",), "350 psi"),
    "compensator": Known("pressure", ("pump.compensator",), "2700 psi"),
    "main relief": Known("pressure", ("main relief.setting",), ""),
    "oil grade": Known("kinematic_viscosity", ("oil.grade",), "32 cSt"),
    "oil temperature": Known("temperature", (), "110 degF"),
}
SENSING = ("LS margin", "standby", "compensator")


@dataclass(frozen=True)
class Assumption:
    """A truck made from what is known: paths of what was assumed, and each as a sentence."""

    truck: Truck
    paths: frozenset[str]
    said: tuple[str, ...]


def truck_of_known(lines: Iterable[str]) -> Assumption:
    """A truck from texts such as `pump displacement = 3 in^3/rev`.

    A pump whose margin, standby or compensator is known is load sensing, any other a fixed one with
    an open centre; `pump type = fixed` or `load sensing` says so itself. Raises TruckFileError with
    all that is wrong.
    """
    given, faults = _given(lines)
    if faults:
        raise TruckFileError(faults)
    pump = given.pop("pump type", "")
    sensing = pump == "load sensing" or (not pump and any(word in given for word in SENSING))
    if not sensing and (odd := [word for word in SENSING if word in given]):
        raise TruckFileError([f"a fixed pump has no {odd[0]}"])
    values = {}
    said = [f"pump type: {'load sensing' if sensing else 'fixed, on an open centre'}"]
    said = [] if pump else said
    paths: set[str] = set()
    for word, known in KNOWN.items():
        if word in given:
            values[word] = given[word]
            continue
        if word in SENSING and not sensing:
            continue
        values[word] = known.otherwise or ("3000 psi" if sensing else "2000 psi")
        said.append(f"{word}: {values[word]}")
        paths.update(known.paths)
    paths |= {"pump.volumetric_efficiency", "auger.motor.volumetric_efficiency"}
    said.append("pump and motor: 93 % volumetric, 88 % hydromechanical at their rated points")
    said.append("hoses: 20 ft each way to the auger")
    truck = truck_from_text(_text(values, sensing))
    return Assumption(truck, frozenset(paths), tuple(said))


def _given(lines: Iterable[str]) -> tuple[dict[str, str], list[str]]:
    given: dict[str, str] = {}
    faults = []
    for line in lines:
        word, sign, value = (part.strip() for part in line.partition("="))
        word = " ".join(word.split())
        if not sign or not value:
            faults.append(
                f"'{line[:60]}': write WHAT = VALUE, such as pump displacement = 3 in^3/rev"
            )
        elif word in given:
            faults.append(f"{word}: told twice")
        elif word == "pump type" and value in ("fixed", "load sensing"):
            given[word] = value
        elif word == "pump type":
            faults.append(f"pump type: read '{value[:40]}'; here fits: fixed, load sensing")
        elif word not in KNOWN:
            near = difflib.get_close_matches(word[:40], KNOWN, 1, 0.6)
            hint = f"did you mean '{near[0]}'?" if near else "here fits: " + ", ".join(KNOWN)
            faults.append(f"'{word[:40]}' is not asked for; {hint}, pump type")
        else:
            try:
                number = parse(value, KNOWN[word].kind)
                if number <= 0.0:
                    raise DomainError(f"'{value[:40]}': must be above zero")
            except (UnitError, DomainError) as error:
                faults.append(f"{word}: {error}")
                continue
            given[word] = value
    return given, faults


_TRUCK = """schema = 1
[truck]
name = "truck of a few known numbers"
[engine]
idle = "700 rpm"
governed = "2100 rpm"
working = ["{speed}", "{speed}"]
drive = {{ ratio = "{ratio}" }}
[oil]
grade = "{grade}"
viscosity_index = 140
cold = "20 degF"
working = "{oil}"
hot = "160 degF"
[[pump]]
name = "pump"
type = "{type}"
feeds = ["bank"]
displacement = "{pump}"
rated_speed = "1800 rpm"
rated_pressure = "2500 psi"
volumetric_efficiency = "93 %"
hydromechanical_efficiency = "90 %"
{control}
[[bank]]
name = "bank"
type = "{bank}"
section_drop = "150 psi"
{centre}
[[relief]]
name = "main relief"
at = "pump"
of = "pump"
setting = "{relief}"
rated_flow = "25 gpm"
[[function]]
name = "auger"
kind = "feeder"
bank = "bank"
section = {{ rated_flow = "{flow}", deadband = "{deadband}" }}
[function.motor]
displacement = "{motor}"
rated_speed = "200 rpm"
rated_pressure = "1500 psi"
volumetric_efficiency = "93 %"
hydromechanical_efficiency = "88 %"
load = {{ pressure = "{load}" }}
{lines}[lines.pressure]
of = "pump"
bore = "1 in"
length = "10 ft"
[lines.return]
bore = "1-1/4 in"
length = "10 ft"
[lines.return.filter]
rated_flow = "40 gpm"
rated_drop = "6 psi"
[[scenario]]
name = "as asked"
[scenario.run]
auger = {{ command = "{command}" }}
"""


def _text(values: Mapping[str, str], sensing: bool) -> str:
    """The truck file of such a truck."""
    control = (
        f'margin = "{values["LS margin"]}"\ncompensator = "{values["compensator"]}"\n'
        f'standby = "{values["standby"]}"'
        if sensing
        else ""
    )
    lines = "".join(
        f'[lines.auger_{side}]\nrole = "work {side}"\nof = "auger"\nbore = "3/4 in"\n'
        'length = "20 ft"\ncoupling = { rated_flow = "12 gpm", rated_drop = "15 psi" }\n'
        for side in ("supply", "return")
    )
    centre = 'neutral_flow = "20 gpm"\nneutral_drop = "60 psi"\norder = ["auger"]'
    return _TRUCK.format(
        speed=values["engine speed"],
        ratio=values["drive ratio"],
        grade=values["oil grade"],
        oil=values["oil temperature"],
        type="load sensing" if sensing else "fixed",
        pump=values["pump displacement"],
        control=control,
        bank="parallel" if sensing else "open centre",
        centre="" if sensing else centre,
        relief=values["main relief"],
        flow=values["auger flow"],
        deadband=values["auger deadband"],
        motor=values["auger displacement"],
        load=values["auger pressure"],
        lines=lines,
        command=values["auger command"],
    )
