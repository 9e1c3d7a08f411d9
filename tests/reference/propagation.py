"""First-order uncertainties of formulas by `uncertainties`, quantiles and standard deviations by `scipy.stats`.

Reads {"formulas": [{"text", "givens": {name: [mean, standard uncertainty]}}], "shapes": [{"shape", "low", "nominal",
"high", "k", "degrees"}]}. Prints {"formulas": [[value, standard uncertainty]], "shapes": [[std, 2.5 %, 97.5 %]]}; a standard deviation
that does not exist is null.
"""

import json
import math
import sys

from scipy import stats
from uncertainties import ufloat, umath


def propagated(formula):
    names = {name: ufloat(mean, u) for name, (mean, u) in formula["givens"].items()}
    for function in ("sqrt", "exp", "log", "sin", "cos", "atan"):
        names[function] = getattr(umath, function)
    # The formulas are the test's own, made of names, numbers, operators and the functions above.
    result = eval(formula["text"], {"__builtins__": {}}, names)
    return [result.nominal_value, result.std_dev]


def distribution(shape):
    low, nominal, high = shape["low"], shape["nominal"], shape["high"]
    width = high - low
    match shape["shape"]:
        case "rectangular":
            return stats.uniform(low, width)
        case "triangular":
            return stats.triang((nominal - low) / width, low, width)
        case "arcsine":
            return stats.arcsine(low, width)
        case "normal":
            return stats.norm(nominal, (high - nominal) / shape["k"])
        case "student":
            return stats.t(shape["degrees"], nominal, (high - nominal) / shape["k"])


def finite(number):
    return float(number) if math.isfinite(number) else None


question = json.load(sys.stdin)
shapes = [distribution(shape) for shape in question["shapes"]]
answer = {
    "formulas": [propagated(formula) for formula in question["formulas"]],
    "shapes": [[finite(d.std()), d.ppf(0.025), d.ppf(0.975)] for d in shapes],
}
json.dump(answer, sys.stdout)
