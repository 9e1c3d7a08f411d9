"""Initial-value problems by `scipy.integrate.solve_ivp`.

Reads {"systems": [{"rates": [formula], "starts": [number], "end": number, "at": number, "level": number, "method"}]}; the
formulas are of x0, x1, … and t. Prints [{"last": [number], "at": [number], "greatest": number, "least": number, "first":
number or null}], the last three of x0: its extremes, and the first time at which it rises above the level (null where it
starts above it, or comes so near to it that rounding decides).
"""

import json
import math
import sys

import numpy as np
from scipy.integrate import solve_ivp

FUNCTIONS = {name: getattr(math, name) for name in ("sqrt", "exp", "sin", "cos", "atan")}


def answer(system):
    codes = [compile(formula, "rate", "eval") for formula in system["rates"]]
    names = [f"x{i}" for i in range(len(codes))]

    def rates(t, x):
        # The formulas are the test's own.
        inside = {**FUNCTIONS, "t": t, **dict(zip(names, x))}
        return [eval(code, {"__builtins__": {}}, inside) for code in codes]

    solved = solve_ivp(
        rates, (0.0, system["end"]), system["starts"], method=system["method"], rtol=1e-11, atol=1e-13, dense_output=True
    )
    assert solved.success, solved.message
    times = np.unique(np.concatenate([np.linspace(0.0, system["end"], 40001), solved.t]))
    x0 = solved.sol(times)[0]
    above = x0 > system["level"]
    first = None
    crossing = np.argmax(above)
    if above.any() and not above[0]:
        low, high = times[crossing - 1], times[crossing]
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if solved.sol(middle)[0] > system["level"] else (middle, high)
        speed = abs(rates(high, solved.sol(high))[0])
        before = x0[:crossing].max()
        # An earlier peak just below the level would make the first time a matter of rounding; so would a slow crossing.
        peaks = (x0[1:-1] > x0[:-2]) & (x0[1:-1] >= x0[2:]) & (times[1:-1] < low)
        near = np.abs(x0[1:-1][peaks] - system["level"]) < 1e-5
        first = None if near.any() or speed < 1e-2 or before > system["level"] else high
    return {
        "last": solved.y[:, -1].tolist(),
        "at": solved.sol(system["at"]).tolist(),
        "greatest": float(x0.max()),
        "least": float(x0.min()),
        "first": first,
    }


print(json.dumps([answer(system) for system in json.load(sys.stdin)["systems"]]))
