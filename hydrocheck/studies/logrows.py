"""Rows of a log that can be believed: impossible values, time, and the speed signal.

A row is left out, with its line and the reason, where a value is impossible or time does not rise.
A speed signal that jumps faster than a truck can brake or pull is a drop-out or a spike: for up to
three seconds the last believed speed is held, and counted; after that rows are left out until the
signal is believable again. A reading of exactly zero after a jump is believed no sooner than
another reading.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from hydrocheck.model.logfile import BadRow, LogBlock
from hydrocheck.model.truck import Truck

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

RPM, MPH = np.pi / 30.0, 0.44704
MOST_ENGINE = 6000.0 * RPM
MOST_ROAD = 100.0 * MPH
MOST_RATE = 5000.0 * 0.45359237 / 1609.344
OIL_RANGE = (213.15, 423.15)
"""Bounds of what is possible: ours. Engine also at most 1.25 times the truck's highest speed."""
HARDEST = 8.0
"""Greatest believable change of road speed [m/s2], hard braking: ours."""
NOISE = 1.0
"""Step of a speed signal that is only its resolution [m/s]: ours."""
HOLD = 3.0
"""How long the last believed speed is held [s]: ours."""
_LASTS = "lasts"
KEPT = 20
"""Bad rows that are listed; all are counted."""


@dataclass
class Tally:
    """What was left out or held: counts by reason, the first lines."""

    rows: int = 0
    used: int = 0
    held: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    first: list[BadRow] = field(default_factory=list)
    held_lines: list[int] = field(default_factory=list)

    @property
    def left_out(self) -> int:
        """Rows left out."""
        return sum(self.reasons.values())

    def add(self, bad: Iterable[BadRow]) -> None:
        """Count bad rows; their reasons are grouped by the words before a value."""
        for row in bad:
            self.reasons[_group(row.why)] += 1
            if len(self.first) < KEPT:
                self.first.append(row)


def _group(why: str) -> str:
    """A reason without the value that was read."""
    if "cells, but the header" in why:
        return "wrong number of cells"
    name, colon, rest = why.partition(": ")
    for end in ("is no number", "is no time"):
        if colon and rest.endswith(end):
            return f"{name} {end}"
    return f"{name} is neither on nor off" if colon and rest.startswith("'") else why


@dataclass(frozen=True)
class _Carry:
    """The last believed row, and since when the speed signal is not believed (nan: it is)."""

    time: float = -np.inf
    speed: float = np.nan
    lost_at: float = np.nan


def checked_blocks(
    blocks: Iterable[LogBlock], truck: Truck, tally: Tally
) -> Iterator[tuple[LogBlock, Array]]:
    """Blocks of believed rows, and how long each row lasts: to the next one, [s], (N,).

    What is left out goes to the tally. The last row of a block waits for the next one: whether
    time falls back after it, and how long it lasts, is known only then.
    """
    most_engine = _most_engine(truck)
    carry, waiting = _Carry(), None
    for block in blocks:
        tally.rows += block.size + len(block.bad)
        tally.add(block.bad)
        possible = _without_impossible(block, most_engine, tally)
        joined = possible if waiting is None else _joined(waiting, possible)
        joined = _without_spikes(joined, carry.time, tally)
        kept, carry, waiting = _believed(joined, carry, tally)
        if kept is not None:
            yield kept
    if waiting is not None:
        rising = waiting.values["time"][0] > carry.time
        if not rising:
            tally.add([BadRow(int(waiting.lines[0]), "time does not rise")])
            return
        last, carry = _speeds(waiting, carry, tally)
        if last.size:
            tally.used += last.size
            yield last, np.zeros(last.size)


def _most_engine(truck: Truck) -> float:
    engine = truck.engine
    top = engine.overrun if engine.overrun is not None else engine.governed
    return MOST_ENGINE if top is None else min(MOST_ENGINE, 1.25 * float(top))


def _take(block: LogBlock, index: Mask | slice) -> LogBlock:
    values = {k: v[index] for k, v in block.values.items()}
    return replace(block, lines=block.lines[index], values=values, bad=())


def _joined(first: LogBlock, second: LogBlock) -> LogBlock:
    values = {k: np.concatenate([v, second.values[k]]) for k, v in first.values.items()}
    lines = np.concatenate([first.lines, second.lines])
    return LogBlock(lines, values, (), second.done)


def _without_impossible(block: LogBlock, most_engine: float, tally: Tally) -> LogBlock:
    """Without rows whose values no truck can have."""
    values = block.values
    bounds = {
        "engine": (0.0, most_engine, "engine speed is impossible"),
        "road": (0.0, MOST_ROAD, "road speed is impossible"),
        "rate": (0.0, MOST_RATE, "rate is impossible"),
        "oil": (*OIL_RANGE, "oil temperature is impossible"),
    }
    good = np.ones(block.size, dtype=np.bool_)
    for role, (low, high, why) in bounds.items():
        if role in values:
            out = good & ~((values[role] >= low) & (values[role] <= high))
            tally.add(BadRow(int(line), why) for line in block.lines[out])
            good &= ~out
    return block if good.all() else _take(block, good)


def _without_spikes(block: LogBlock, before: float, tally: Tally) -> LogBlock:
    """Without single rows whose time runs ahead of the rows around them; before: of the last row
    that went before [s]."""
    time = np.concatenate(([before], block.values["time"]))
    if time.size < 3:
        return block
    ahead = (time[1:-1] > time[2:]) & (time[2:] >= time[:-2])
    if not ahead.any():
        return block
    out = np.append(ahead, False)
    tally.add(BadRow(int(line), "time runs ahead") for line in block.lines[out])
    return _take(block, ~out)


def _believed(
    block: LogBlock, carry: _Carry, tally: Tally
) -> tuple[tuple[LogBlock, Array] | None, _Carry, LogBlock | None]:
    """Believed rows with their durations, but for the last one, which waits."""
    if not block.size:
        return None, carry, None
    time = block.values["time"]
    highest = np.maximum.accumulate(np.concatenate(([carry.time], time)))[:-1]
    back = time <= highest
    if back.any():
        lines = block.lines[back]
        tally.add(BadRow(int(line), "time does not rise") for line in lines)
        block = _take(block, ~back)
        if not block.size:
            return None, carry, None
    waiting = _take(block, slice(-1, None))
    lasts = {**_take(block, slice(0, -1)).values, _LASTS: np.diff(block.values["time"])}
    rows, after = _speeds(replace(block, lines=block.lines[:-1], values=lasts), carry, tally)
    if not rows.size:
        return None, after, waiting
    tally.used += rows.size
    values = {k: v for k, v in rows.values.items() if k != _LASTS}
    return (replace(rows, values=values), rows.values[_LASTS]), after, waiting


def _speeds(block: LogBlock, carry: _Carry, tally: Tally) -> tuple[LogBlock, _Carry]:
    """The rows with a believable road speed, held where it drops out; the last state."""
    if not block.size:
        return block, carry
    time, speed = block.values["time"], block.values["road"]
    before_time = np.concatenate(([carry.time], time[:-1]))
    before_speed = np.concatenate(([carry.speed], speed[:-1]))
    with np.errstate(invalid="ignore"):
        jump = np.abs(speed - before_speed) > NOISE + HARDEST * (time - before_time)
    if np.isnan(carry.lost_at) and not jump.any():
        return block, _Carry(float(time[-1]), float(speed[-1]))
    held, lost, state = _follow(time, speed, jump, carry)
    fixed = np.array(speed)
    for place, value in held.items():
        fixed[place] = value
    tally.held += len(held)
    room = max(0, KEPT - len(tally.held_lines))
    tally.held_lines += [int(block.lines[place]) for place in list(held)[:room]]
    good = np.ones(block.size, dtype=np.bool_)
    good[lost] = False
    tally.add(BadRow(int(line), "speed signal lost") for line in block.lines[~good])
    whole = replace(block, values={**block.values, "road": fixed})
    return _take(whole, good), replace(state, time=float(time[-1]))


def _follow(
    time: Array, speed: Array, jump: Mask, carry: _Carry
) -> tuple[dict[int, float], list[int], _Carry]:
    """Held speeds by place, places where the signal is lost, and the state after the last row.

    Only from a jump to the next believable row is the way gone row by row.
    """
    held: dict[int, float] = {}
    lost: list[int] = []
    jumps = np.flatnonzero(jump)
    place, size = 0, time.size
    since, believed = carry.lost_at, carry.speed
    while place < size:
        if np.isnan(since):
            after = int(np.searchsorted(jumps, place))
            if after == jumps.size:
                return held, lost, _Carry(speed=float(speed[-1]))
            place = int(jumps[after])
            believed = float(speed[place - 1]) if place else carry.speed
            since = float(time[place - 1]) if place else carry.time
        waited = float(time[place]) - since
        near = abs(float(speed[place]) - believed) <= NOISE + HARDEST * waited
        if near and (speed[place] > 0 or believed <= NOISE):
            since = np.nan
        elif waited <= HOLD:
            held[place] = believed
        else:
            lost.append(place)
        place += 1
    last = float(speed[-1]) if np.isnan(since) else believed
    return held, lost, _Carry(speed=last, lost_at=since)
