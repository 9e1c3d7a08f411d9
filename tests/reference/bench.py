"""Statistics of readings by `scipy.stats`, fits by `scipy.optimize.least_squares`, values of a given by `brentq`.

Reads {"readings": [{"numbers", "instrument"}], "fits": [{"formulas", "fitted": {name: start}, "others": {name: [mean,
standard uncertainty]}, "read": [[mean, standard uncertainty]]}], "suspects": [{"formula", "givens": {name: nominal},
"moved", "low", "high", "reading"}]}. Prints {"readings": [[mean, sd, u, effective degrees of freedom, Student's factor for
95.45 %]], "fits": [[[value, standard uncertainty]], correlation], "suspects": [value]}.
"""

import json
import math
import sys

import numpy as np
from scipy import optimize, stats

FUNCTIONS = {name: getattr(math, name) for name in ("sqrt", "exp", "log", "sin", "cos", "atan")}


def evaluated(formula, names):
    # The formulas are the test's own, made of names, numbers, operators and the functions above.
    return eval(formula, {"__builtins__": {}}, {**FUNCTIONS, **names})


def read(asked):
    numbers = np.array(asked["numbers"])
    type_a = stats.sem(numbers) if len(numbers) > 1 else 0.0
    instrument = stats.uniform(-asked["instrument"], 2 * asked["instrument"]).std()
    u = math.hypot(type_a, instrument)
    degrees = u**4 / (type_a**4 / (len(numbers) - 1)) if type_a > 0 else math.inf
    k = stats.t.ppf(stats.norm.cdf(2), degrees) if math.isfinite(degrees) else 2.0
    sd = numbers.std(ddof=1) if len(numbers) > 1 else None
    return [numbers.mean(), sd, u, degrees if math.isfinite(degrees) else None, k]


def slopes(f, x):
    """The derivative of a vector by central differences, extrapolated (Richardson)."""
    def central(h):
        return (f(x + h) - f(x - h)) / (2 * h)

    h = 1e-3 * max(abs(x), 1e-3)
    return (4 * central(h / 2) - central(h)) / 3


def fit(asked):
    fitted, others = list(asked["fitted"]), asked["others"]
    means = np.array([mean for mean, _ in asked["read"]])
    nominal = {name: mean for name, (mean, _) in others.items()}

    def values(p, changed=None):
        names = {**nominal, **(changed or {}), **dict(zip(fitted, p))}
        return np.array([evaluated(formula, names) for formula in asked["formulas"]])

    def covariance(p):
        total = np.diag([u**2 for _, u in asked["read"]])
        for name, (mean, u) in others.items():
            column = u * slopes(lambda x: values(p, {name: x}), mean)
            total = total + np.outer(column, column)
        return total

    p = np.array([asked["fitted"][name] for name in fitted])
    for _ in range(4):
        root = np.linalg.cholesky(covariance(p))
        scale = np.abs(p)
        found = optimize.least_squares(
            lambda q: np.linalg.solve(root, values(q * scale) - means), p / scale, xtol=1e-15, ftol=1e-15, gtol=1e-15
        )
        p = found.x * scale
    root = np.linalg.cholesky(covariance(p))
    columns = [
        slopes(lambda x: values(np.array([x if i == j else p[i] for i in range(len(p))])), p[j]) for j in range(len(p))
    ]
    jacobian = np.linalg.solve(root, np.array(columns).T)
    inverse = np.linalg.inv(jacobian.T @ jacobian)
    std = np.sqrt(np.diag(inverse))
    return [[[value, u] for value, u in zip(p, std)], (inverse / np.outer(std, std)).tolist()]


def suspect(asked):
    def left(x):
        return evaluated(asked["formula"], {**asked["givens"], asked["moved"]: x}) - asked["reading"]

    return optimize.brentq(left, asked["low"], asked["high"], xtol=1e-300, rtol=1e-14)


question = json.load(sys.stdin)
json.dump(
    {
        "readings": [read(asked) for asked in question["readings"]],
        "fits": [fit(asked) for asked in question["fits"]],
        "suspects": [suspect(asked) for asked in question["suspects"]],
    },
    sys.stdout,
)
