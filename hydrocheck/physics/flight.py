"""Grains in flight through still air: from the disc to the road, by a Runge-Kutta method."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from hydrocheck.errors import DomainError
from hydrocheck.physics._guard import require_positive
from hydrocheck.physics.arrays import Array, as_array, require
from hydrocheck.physics.plumbing import atmospheric_pressure

__all__ = ["Landing", "air_state", "landing", "no_drag_throw", "sphere_drag"]

_GRAVITY = 9.80665
_FIRST_STEPS, _MOST_STEPS = 6, 768
_TOUCH_STEPS = 6
_STIFF = 12.0  # decay times that a run of steps may span: 2 a step at first, which is stable
_MOST_FALLS = 40  # times the fall without drag, after which a grain counts as dust
_LOWEST_RE, _HIGHEST_RE, _TABLE_SIZE = 1e-3, 2e5, 8000
_GAS_CONSTANT, _MOLAR_MASS = 8.31432, 0.0289644  # as the standard atmosphere has them


@dataclass(frozen=True)
class Landing:
    """Where and how grains reach the road; arrays of the flights' shape.

    forward, left: way over the ground [m]
    velocity: forward, left, up on landing [m/s], on the last axis
    time: of flight [s]
    error: estimate of the error of the place along the way [m]
    """

    forward: Array
    left: Array
    velocity: Array
    time: Array
    error: Array

    @property
    def speed(self) -> Array:
        """Speed on landing [m/s]."""
        return np.asarray(np.linalg.norm(self.velocity, axis=-1))


def air_state(altitude: ArrayLike, temperature: ArrayLike) -> tuple[Array, Array]:
    """Density and dynamic viscosity of air at an altitude and a temperature.

    rho = p M / (R T), p of the standard atmosphere

    altitude: above sea level [m], -5000 to 11000, broadcast, refused outside
    temperature: of the air [K], 150 to 400, broadcast, refused outside
    returns: density [kg/m3]; viscosity [Pa s]

    Dry air; weather moves the pressure by about 3 %.

    >>> density, viscosity = air_state(0.0, 263.15)
    >>> round(float(density), 4), round(float(viscosity) * 1e6, 3)
    (1.3414, 16.661)

    Source: US Standard Atmosphere, 1976. Example: package fluids, ATMOSPHERE_1976.
    """
    height, heat = as_array(altitude), as_array(temperature)
    require((heat >= 150.0) & (heat <= 400.0), "air temperature must be from 150 K to 400 K")
    density = atmospheric_pressure(height) * _MOLAR_MASS / (_GAS_CONSTANT * heat)
    viscosity = 1.458e-6 * heat**1.5 / (heat + 110.4)
    density, viscosity = np.broadcast_arrays(density, viscosity)
    return density, viscosity


def sphere_drag(reynolds: ArrayLike) -> Array:
    """Drag coefficient of a sphere.

    reynolds: number with the sphere's diameter [1], above 0 to 2e5, broadcast, refused outside
    returns: coefficient [1]

    One law over all Reynolds numbers, read from a fine table of it: within 1e-5 of the law.

    >>> round(float(sphere_drag(1000.0)), 5)
    0.46742

    Source: Barati, Neyshabouri and Ahmadi, Powder Technology 257, 2014, and Stokes's law. Example:
    package fluids, drag_sphere, which joins them in the same way.
    """
    number = as_array(reynolds)
    require_positive(reynolds=number)
    require(number <= _HIGHEST_RE, "the drag of a sphere is known up to a Reynolds number of 2e5")
    result: Array = _drag_times_re(number) / number
    return result


@cache
def _table() -> tuple[Array, Array]:
    """Logarithms of Re and of Cd Re."""
    number = np.geomspace(_LOWEST_RE, _HIGHEST_RE, _TABLE_SIZE)
    return np.log(number), np.log(_law(number) * number)


def _law(number: Array) -> Array:
    """Drag coefficient of a smooth sphere: Barati's law, Stokes below 0.01, a mix between."""
    barati = (
        5.4856e9 * np.tanh(4.3774e-9 / number)
        + 0.0709 * np.tanh(700.6574 / number)
        + 0.3894 * np.tanh(74.1539 / number)
        - 0.1198 * np.tanh(7429.0843 / number)
        + 1.7174 * np.tanh(9.9851 / (number + 2.3384))
        + 0.4744
    )
    share = np.clip((number - 0.01) / 0.09, 0.0, 1.0)
    result: Array = share * barati + (1.0 - share) * 24.0 / number
    return result


def _drag_times_re(number: Array) -> Array:
    """Cd Re, which is 24 for the slowest."""
    places, values = _table()
    return np.asarray(np.exp(np.interp(np.log(np.maximum(number, _LOWEST_RE)), places, values)))


def no_drag_throw(speed: ArrayLike, elevation: ArrayLike, height: ArrayLike) -> Array:
    """Distance that a body flies without air.

    d = v cos(e) (v sin(e) + sqrt(v^2 sin^2(e) + 2 g h)) / g

    speed: at the start [m/s], broadcast
    elevation: of the start above the horizontal [rad], broadcast
    height: of the start above the ground [m], 0 or above, broadcast
    returns: distance over the ground [m]; the most that any grain can reach

    >>> round(float(no_drag_throw(14.62, 0.0, 0.45)), 2)
    4.43

    Source: uniform acceleration; from memory.
    """
    v, angle, drop = as_array(speed), as_array(elevation), as_array(height)
    require(drop >= 0.0, "the start must lie above the ground")
    up = v * np.sin(angle)
    result: Array = v * np.cos(angle) * (up + np.sqrt(up**2 + 2.0 * _GRAVITY * drop)) / _GRAVITY
    return result


def landing(
    velocity: ArrayLike,
    height: ArrayLike,
    diameter: ArrayLike,
    density: ArrayLike,
    shape: ArrayLike,
    air_density: ArrayLike,
    air_viscosity: ArrayLike,
    tolerance: float = 1e-4,
) -> Landing:
    """Where grains land that start at a height through still air.

    m dv/dt = (m - m_air) g - 0.5 rho k Cd(Re) A |v| v, Re = rho |v| d / mu

    velocity: forward, left, up over the ground [m/s], on the last axis (..., 3)
    height: of the start above the road [m], above 0, broadcast
    diameter: of the grain, as a sphere [m], broadcast
    density: of the grain, 2160 for salt [kg/m3], above the air's, broadcast
    shape: drag / drag of a sphere, 1.5 for salt (1.0 to 2.2) [1], broadcast
    air_density: [kg/m3]; air_viscosity: dynamic [Pa s], broadcast
    tolerance: error of the place along the way to aim at [m]
    returns: the landing; its ways and their error [m], velocity [m/s], time [s]

    Runge-Kutta steps of fourth order, halved until two runs agree; their difference is the error
    estimate. Dust that floats rather than falls is refused with DomainError.

    >>> flown = landing([0.0, 14.62, 0.0], 0.45, 4.75e-3, 2160.0, 1.5, 1.316, 1.69e-5)
    >>> round(float(flown.left), 2)
    4.09

    Source: Newton's second law with the drag of a sphere, see `sphere_drag`; shape factor from wind
    tunnel terminal velocities, Journal of Agricultural Engineering 44(2s), 2013.
    """
    v, start, d = as_array(velocity), as_array(height), as_array(diameter)
    grain, k = as_array(density), as_array(shape)
    air, mu = as_array(air_density), as_array(air_viscosity)
    require_positive(height=start, diameter=d, shape=k, air_density=air, air_viscosity=mu)
    require(grain > air, "the grains must be denser than the air")
    require(v.ndim > 0 and v.shape[-1] == 3, "velocity needs forward, left and up on its last axis")
    require(np.isfinite(v), "velocity must be finite")
    start, d, grain, k, air, mu, _ = np.broadcast_arrays(start, d, grain, k, air, mu, v[..., 0])
    v = np.broadcast_to(v, (*start.shape, 3))
    flights = _Flights(
        np.moveaxis(v, -1, 0).reshape(3, -1),
        start.ravel(),
        (0.75 * k * mu / (grain * d**2)).ravel(),
        (air * d / mu).ravel(),
        (_GRAVITY * (1.0 - air / grain)).ravel(),
    )
    state, time, error = flights.until(tolerance)
    shaped = state.reshape(6, *start.shape)
    return Landing(
        shaped[0],
        shaped[1],
        np.moveaxis(shaped[3:], 0, -1),
        time.reshape(start.shape),
        error.reshape(start.shape),
    )


@dataclass(frozen=True)
class _Flights:
    """F flights.

    velocity: at the start [m/s], (3, F); height: [m], (F,)
    drag: deceleration / (speed Cd Re) [1/s], reynolds: Re / speed [s/m], weight: [m/s2], (F,)
    """

    velocity: Array
    height: Array
    drag: Array
    reynolds: Array
    weight: Array

    def until(self, tolerance: float) -> tuple[Array, Array, Array]:
        """State and time on landing, and the error of the way, by halving the step."""
        fastest = np.linalg.norm(self.velocity, axis=0).max(initial=0.0)
        top = np.sqrt(fastest**2 + 2.0 * _GRAVITY * self.height.max(initial=0.0))
        if (self.reynolds * top > _HIGHEST_RE).any():
            raise DomainError("the grains are too large or too fast for the law of drag")
        steps = _FIRST_STEPS
        coarse, before = self._fly(steps)
        while True:
            steps *= 2
            fine, time = self._fly(steps)
            # A halved step takes 15/16 of an error of fourth order away. Landing early or late is
            # an error of the way down.
            speed = np.linalg.norm(fine[3:], axis=0)
            error = np.hypot(*(fine[:2] - coarse[:2])) + np.abs(time - before) * speed
            error /= 15.0
            if steps >= _MOST_STEPS or (error <= tolerance).all():
                return fine, time, error
            coarse, before = fine, time

    def _fly(self, steps: int) -> tuple[Array, Array]:
        """State on landing (6, F) and time (F,), in `steps` steps of a fall without drag."""
        up = self.velocity[2]
        alone = (up + np.sqrt(up**2 + 2.0 * self.weight * self.height)) / self.weight
        # A grain that the air soon stops asks for steps as short, or the method itself grows wild.
        fastest = np.linalg.norm(self.velocity, axis=0) + np.sqrt(2.0 * self.weight * self.height)
        step = (
            np.minimum(alone, _STIFF / (self.drag * _drag_times_re(self.reynolds * fastest)))
            / steps
        )
        state = np.concatenate([np.zeros_like(self.velocity), self.velocity])
        state[2] = self.height
        time = np.zeros_like(step)
        flying = np.ones(step.size, dtype=bool)
        for _ in range(_MOST_FALLS * steps):
            ahead = self._step(state, step)
            flying &= ahead[2] > 0.0
            if not flying.any():
                return self._touch(state, time, step)
            state = np.where(flying, ahead, state)
            time = np.where(flying, time + step, time)
        raise DomainError("the grains are so fine that they float: no landing was found")

    def _touch(self, state: Array, time: Array, step: Array) -> tuple[Array, Array]:
        """The last step, shortened to end on the road."""
        last = step
        for _ in range(_TOUCH_STEPS):  # Newton's method from below the road
            ahead = self._step(state, last)
            last = np.clip(last - ahead[2] / ahead[5], 0.0, step)
        return self._step(state, last), time + last

    def _step(self, state: Array, step: Array) -> Array:
        """One Runge-Kutta step of fourth order."""
        a = self._slope(state)
        b = self._slope(state + 0.5 * step * a)
        c = self._slope(state + 0.5 * step * b)
        d = self._slope(state + step * c)
        return state + step / 6.0 * (a + 2.0 * (b + c) + d)

    def _slope(self, state: Array) -> Array:
        velocity = state[3:]
        speed = np.sqrt((velocity**2).sum(axis=0))
        slope = np.empty_like(state)
        slope[:3] = velocity
        slope[3:] = -self.drag * _drag_times_re(self.reynolds * speed) * velocity
        slope[5] -= self.weight
        return slope
