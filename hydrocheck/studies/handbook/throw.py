"""Formulas of the throw: a grain off a vane, and its flight."""

from __future__ import annotations

from typing import Final

from hydrocheck.studies.handbook.formula import Formula, Input, Output, Result, Values, Way


def _exit(values: Values) -> Result:
    from math import atan2, hypot

    from hydrocheck.physics.throw import vane_exit

    radial, tangential = map(
        float,
        vane_exit(
            values["speed"],
            values["disc_radius"],
            values["feed_radius"],
            values["friction"],
            values["vane_angle"],
        ),
    )
    return {
        "exit_speed": hypot(radial, tangential),
        "radial_speed": radial,
        "tangential_speed": tangential,
        "angle_from_tangent": atan2(radial, tangential),
    }


def _throw(values: Values) -> Result:
    from math import cos, sin

    from hydrocheck.physics.flight import air_state, landing, no_drag_throw

    v, up, height = values["speed"], values["elevation"], values["height"]
    density, viscosity = air_state(0.0, values["air"])
    flown = landing(
        [v * cos(up), 0.0, v * sin(up)],
        height,
        values["grain"],
        values["density"],
        values["drag_factor"],
        density,
        viscosity,
    )
    return {
        "throw": float(flown.forward),
        "without_air": float(no_drag_throw(v, up, height)),
        "landing_speed": float(flown.speed),
    }


THROW: Final = (
    Formula(
        "spinner-exit", "Speed at which a grain leaves a spinner's straight vane.",
        (
            Input("speed", "shaft_speed", "of the spinner"),
            Input("disc_radius", "length", "of the disc, where the vane ends"),
            Input("feed_radius", "length", "at which material lands on the disc"),
            Input("friction", "ratio", "of grains on vane and disc, 0.2 to 0.6", "0.4"),
            Input("vane_angle", "angle", "from radial at the rim, above 0 where the tip trails",
                  "0 deg", negative=True),
        ),
        (Way(
            ("speed", "disc_radius", "feed_radius", "friction", "vane_angle"),
            (
                Output("exit_speed", "velocity"),
                Output("radial_speed", "velocity"),
                Output("tangential_speed", "velocity"),
                Output("angle_from_tangent", "angle"),
            ),
            "v = sqrt(v_r^2 + v_t^2), by s'' = w^2 s - mu |2 w s' - w^2 c| - mu g",
            "sqrt(({radial_speed})^2 + ({tangential_speed})^2)", _exit,
            "classic theory of a straight vane; an estimate, real salt leaves in clusters",
        ),),
    ),
    Formula(
        "grain-throw", "How far a grain flies through still air; an estimate.",
        (
            Input("speed", "velocity", "at which it leaves, such as 15 m/s"),
            Input("height", "length", "of the start above the road"),
            Input("elevation", "angle", "of the start above level", "0 deg", negative=True),
            Input("grain", "length", "size; road salt has 0.6 to 9.5 mm", "4.75 mm"),
            Input("density", "density", "of the solid, not of the heap", "2160 kg/m3"),
            Input("drag_factor", "ratio", "drag over a sphere's, 1.0 to 2.2", "1.5"),
            Input("air", "temperature", "of the air, at sea level", "23 degF", negative=True),
        ),
        (Way(
            ("speed", "height", "elevation", "grain", "density", "drag_factor", "air"),
            (
                Output("throw", "spread_width"),
                Output("without_air", "spread_width"),
                Output("landing_speed", "velocity"),
            ),
            "x by m dv/dt = m g - 0.5 rho k Cd(Re) A |v| v, step by step to the road",
            "x({speed}, {elevation}, {height}, {grain})", _throw,
            "drag of a sphere times a factor: Journal of Agricultural Engineering 44(2s), 2013",
        ),),
    ),
)  # fmt: skip
