"""From solved states to what an instrument shows, or which word a person would say."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from hydrocheck.advice.causes import words_of
from hydrocheck.advice.forecast import Forecast, command_for_speed
from hydrocheck.advice.patient import Patient
from hydrocheck.advice.states import State, Usual, high_engine_speed
from hydrocheck.errors import DomainError
from hydrocheck.model.readable import What
from hydrocheck.physics.arrays import Array
from hydrocheck.solver import Points, solve

SLOW = 0.90
"""Share of the healthy speed at which half of all people call a function slow (ours)."""
SURE = 0.03
"""How sharply they tell: logistic width of that share (ours)."""
MISHEARD = 0.04
"""Share of words that are told wrongly whatever is true (ours)."""


@dataclass(frozen=True)
class Query:
    """Something that was read, or could be: what, in which state, with what."""

    what: What
    state: State
    instrument: str = ""


Book = Mapping[State, Forecast]
"""The forecast that holds each state; all of the same hypotheses."""


class Unpredictable(DomainError):
    """A reading that the model has no equation for; it is listed, not used."""


def states_for(patient: Patient, query: Query, standard: Usual) -> tuple[State, ...]:
    """The states that a query needs solved, its own first."""
    state, key = query.state, query.what.key
    if key == "worse with oil":
        oil = patient.truck.oil
        hot = standard.oil + 20.0 if oil.hot is None else float(oil.hot)
        return state, replace(state, oil=hot)
    if key == "worse with engine speed":
        return state, replace(state, engine=high_engine_speed(patient, standard))
    if key == "worse with other functions":
        return state, state.only(patient.name)
    return (state,)


def numbers(made: Forecast, query: Query, standard: Usual) -> Array:
    """What the instrument would show, (H, D). Raises Unpredictable."""
    key, state = query.what.key, query.state
    plain = _PLAIN.get(key)
    if plain is not None:
        return made.take(plain(made), state)
    if key in ("engine speed", "pump speed"):
        return _shaft(made, query, standard)
    name = query.what.function
    if key in _UNWEIGHED:
        raise Unpredictable(f"{query.what}: {_UNWEIGHED[key]}")
    if name not in made.result.functions:
        raise Unpredictable(f"{query.what}: moves no oil in this truck")
    if key == "NAME command" and name == made.patient.name and state.loop(name):
        return _holding(made, state)
    if key in _COLUMN:
        return made.column(_COLUMN[key](made), state, name)
    if key == "NAME speed":
        speed = made.column(made.result.speed, state, name)
        if query.instrument in ("sensor", "display") and name == made.patient.name:
            read = np.tile(1.0 + made.variants.add("sensor"), len(made.states))
            speed = speed * made.take(read, state)
        return speed
    if key == "NAME time":
        return _stroke(made, query)
    if key.startswith("NAME coil"):
        return _coil(made, query)
    if name == made.patient.name and key in ("NAME holding command", "NAME minimum trim",
                                             "NAME maximum trim"):  # fmt: skip
        return _command(made, query, standard)
    raise Unpredictable(f"{query.what}: only that of the function that is diagnosed is weighed")


def _at_control(made: Forecast) -> Array:
    """LS pressure that reaches the pump's control [Pa], (S * B,)."""
    return np.asarray(made.supply.load_signal * np.asarray(made.pump.ls_signal))


_UNWEIGHED: dict[str, str] = {
    "case pressure": "the truck file has no drain line of the pump's case that would give it; it"
    " is only held against a fixed limit",
    "cooler heat": "the oil temperature is taken as read, so that no cause predicts it; it is only"
    " held against the power that goes in",
    "NAME discharge": "how the feeder fills is no part of the oil circuit",
}
"""Readings that give facts only, and why."""
_PLAIN: dict[str, Callable[[Forecast], Array]] = {
    "pump pressure": lambda f: f.supply.pump_pressure,
    "LS pressure": _at_control,
    "LS margin": lambda f: f.supply.pump_pressure - _at_control(f),
    "return pressure": lambda f: f.result.return_pressure,
    "pump flow": lambda f: f.supply.pump_flow,
    "case flow": lambda f: f.supply.pump_slip,
    "inlet vacuum": lambda f: f.vacuum,
    "oil temperature": lambda f: f.points.oil_temperature,
    "relief flow": lambda f: np.sum(
        [f.result.relief_flow[n] for n in f.patient.reliefs], axis=0
    ) + np.zeros(f.result.size),
}  # fmt: skip
_COLUMN: dict[str, Callable[[Forecast], Array]] = {
    "NAME pressure": lambda f: f.result.work_pressure,
    "NAME flow": lambda f: f.result.flow,
    "NAME case flow": lambda f: f.result.case_flow,
    "NAME command": lambda f: f.shown,
}


def _shaft(made: Forecast, query: Query, standard: Usual) -> Array:
    """Engine speed as its tachometer shows it; the pump's as a second one would."""
    engine = made.take(made.result.engine_speed, query.state)
    if query.what.key == "pump speed":
        return made.take(made.supply.pump_speed, query.state)
    if query.instrument == "tachometer":
        return engine
    size = len(made.states)
    return engine / made.take(np.tile(made.variants.scale("tachometer"), size), query.state)


def _stroke(made: Forecast, query: Query) -> Array:
    cylinder = made.truck.function_named(query.what.function).cylinder
    if cylinder is None or cylinder.stroke is None:
        raise Unpredictable(f"{query.what}: no cylinder with a stroke")
    speed = made.column(made.result.speed, query.state, query.what.function)
    return np.asarray(np.minimum(float(cylinder.stroke) / np.maximum(speed, 1e-9), 1e4))


def _coil(made: Forecast, query: Query) -> Array:
    coil = made.patient.truck.function_named(query.what.function).section.coil
    own = query.what.function == made.patient.name
    if query.what.key == "NAME coil voltage":
        if coil is None or coil.supply is None:
            raise Unpredictable(f"{query.what}: the truck file gives no coil supply")
        scale = made.take(np.tile(made.variants.scale("voltage"), len(made.states)), query.state)
        return np.asarray(float(coil.supply) * (scale if own else np.ones_like(scale)))
    if coil is None or coil.rated_current is None:
        raise Unpredictable(f"{query.what}: the truck file gives no rated coil current")
    command = made.column(made.command, query.state, query.what.function)
    if own and query.state.loop(query.what.function):
        command = np.minimum(command, _holding(made, query.state))
    return np.asarray(float(coil.rated_current) * command)


def _holding(made: Forecast, state: State) -> Array:
    """Command at which the patient's loop settles, (H, D): its maximum trim where it stays short.

    It asks for the ordered speed as its sensor shows it.
    """
    function = made.patient.function
    order = state.order(function.name)
    assert order is not None
    sensor = np.tile(1.0 + made.variants.add("sensor"), len(made.states))
    needed = made.take(command_for_speed(made, order.speed / sensor), state)
    reached = made.column(made.result.speed, state, function.name) * made.take(sensor, state)
    top = 1.0 if function.trims.max is None else float(function.trims.max)
    return np.where(reached < 0.98 * order.speed, top, np.minimum(needed, top))


def _command(made: Forecast, query: Query, standard: Usual) -> Array:
    function = made.patient.function
    if query.what.key == "NAME holding command":
        if not query.state.loop(function.name):
            raise Unpredictable(f"{query.what}: needs an ordered speed and a closed loop")
        return _holding(made, query.state)
    speed = _trim_speed(made.patient, query, standard)
    return made.take(command_for_speed(made, speed), query.state)


def _trim_speed(patient: Patient, query: Query, standard: Usual) -> float:
    """Speed at which the patient's trim is set: what a healthy truck turns at it [rad/s]."""
    minimum, maximum = patient.healthy_trims
    command = minimum if query.what.key == "NAME minimum trim" else maximum
    if not np.isfinite(command):
        raise Unpredictable(f"{query.what}: the truck file gives too little to predict it")
    points = Points.of(
        patient.truck, standard.engine, standard.oil, command={patient.name: command}
    )
    result = solve(patient.truck, points)
    return float(result.speed[0, result.column(patient.name)])


def words(book: Book, query: Query, standard: Usual) -> Array:
    """Probability of each word that can be read, (H, W). Raises Unpredictable."""
    options = query.what.readable.words
    key = query.what.key
    made = book[query.state]
    if key in ("noise", "oil look", "oil level", "relief turned up"):
        rows = []
        for hypothesis in made.variants.hypotheses:
            told = [words_of(cause, key) for cause, _ in hypothesis]
            rows.append([max(t.get(w, 0.01) for t in told) for w in options])
        found = np.array(rows)
        return _told(found / found.sum(axis=1, keepdims=True))
    ratio = _ratio(book, query.state, query.what.function or made.patient.name)
    if key == "NAME motion":
        slow = _logistic((SLOW - ratio) / SURE)
        stopped = _logistic((0.06 - ratio) / 0.02)
        jerky = 0.06 * slow
        table = {
            "normal": 1.0 - slow,
            "stopped": slow * stopped,
            "jerky": jerky * (1.0 - stopped),
            "slow": (slow - jerky) * (1.0 - stopped),
            "stays open": np.full_like(slow, 1e-3),
        }
        return _told(np.stack([table[w].mean(axis=1) for w in options], axis=1))
    if key == "other functions":
        others = [n for n, _ in query.state.orders if n != made.patient.name]
        if not others:
            raise Unpredictable(f"{query.what}: no other function runs there")
        least = np.min([_ratio(book, query.state, n) for n in others], axis=0)
        slow = _logistic((SLOW - least) / SURE).mean(axis=1)
        return _told(np.stack([slow if w == "slow" else 1.0 - slow for w in options], axis=1))
    return _compared(book, query, standard)


def _compared(book: Book, query: Query, standard: Usual) -> Array:
    """Words that compare two states: hotter, at higher engine speed, alone."""
    options = query.what.readable.words
    patient = book[query.state].patient
    name = patient.name
    states = states_for(patient, query, standard)
    if query.what.key == "worse with other functions":
        both, alone = (_ratio(book, s, name) for s in states)
        yes = (_logistic((alone - both - 0.08) / 0.03)).mean(axis=1)
        return _told(np.stack([yes if w == "yes" else 1.0 - yes for w in options], axis=1))
    if query.what.key not in ("worse with oil", "worse with engine speed"):
        raise Unpredictable(f"{query.what}: no equation gives it")
    first, second = (_ratio(book, s, name) for s in states)
    difference = (second - first) / 0.06  # beyond 6 points it is noticed (ours)
    up, down = np.exp(np.clip(-difference, -30, 30)), np.exp(np.clip(difference, -30, 30))
    total = up + down + 2.0
    by_word = {
        "hot": up / total, "cold": down / total,
        "high": up / total, "low": down / total,
        "no difference": 2.0 / total,
    }  # fmt: skip
    return _told(np.stack([by_word[w].mean(axis=1) for w in options], axis=1))


def _ratio(book: Book, state: State, name: str) -> Array:
    """Speed over the healthy truck's in the same state, (H, D); the first hypothesis is healthy."""
    made = book[state]
    speed = made.column(made.result.speed, state, name)
    reference = float(speed[0].mean())
    if reference <= 0.0:
        return np.ones_like(speed)
    return speed / reference


def _told(probability: Array) -> Array:
    """With the share that people tell wrongly."""
    options = probability.shape[1]
    mixed: Array = (1.0 - MISHEARD) * probability + MISHEARD / options
    return mixed


def _logistic(x: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(np.clip(-x, -40.0, 40.0))))
