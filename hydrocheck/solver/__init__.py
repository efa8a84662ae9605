"""The steady state of a circuit at N operating points.

`solve(circuit, points)` reads, in this order: `compile` (circuit and points as the arrays of
`network`, everything that cannot be solved refused), `branches` (function side: motor, lines,
section law), `banks` (how sections share), `supply` (what the pump gives and holds), `plenty`
(where nothing is short: no iteration), `sections` and `joint` (Newton's step of a function, and on
the whole parallel bank), `balance` (the guard: one falling function, one root), `together` (several
pumps over one return line), `account` (speeds, powers, heat, limits and residuals). `iter_solve`
does so block by block and keeps the columns asked for.

The network reduces to the pressure-flow characteristic that the pump sees. It does not fall, so
that the operating point is unique, if each load torque rises with speed or stays, and friction does
not depend on speed inside a solve.
"""

from __future__ import annotations

from hydrocheck.model.circuit import Circuit
from hydrocheck.solver.account import account
from hydrocheck.solver.balance import find_balance
from hydrocheck.solver.blocks import Kept, iter_solve
from hydrocheck.solver.compile import compile_plant
from hydrocheck.solver.motions import with_motions
from hydrocheck.solver.points import Points, solved_functions
from hydrocheck.solver.result import FunctionLimit, Result, SupplyLimit
from hydrocheck.solver.together import solve_together

__all__ = [
    "FunctionLimit",
    "Kept",
    "Points",
    "Result",
    "SupplyLimit",
    "iter_solve",
    "solve",
    "solved_functions",
]


def solve(circuit: Circuit, points: Points) -> Result:
    """The steady state of a circuit at its points.

    circuit: any scalar may be an (N,) array; points: N operating points

    Raises MissingValue (the circuit lacks a value that the equations need), NotSolvedYet (a circuit
    type), CircuitError (no unique answer), DomainError (values out of range, shapes that do not
    fit).
    """
    points.validate()
    plant = compile_plant(circuit, points)
    if len(plant.networks) > 1:
        result = solve_together(points, plant)
    else:
        network = plant.networks[0]
        state = find_balance(network, points.size)
        result = account(points, network, state, plant.names[0])
    return with_motions(result, points, plant.return_line)
