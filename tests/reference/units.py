"""Holds the engine's units and constants against pint and scipy.constants.

Reads one JSON object: {"units": [{"symbol", "dimension", "numbers", "si", "back"}], "constants": {name: SI value}}.
`si` is what the engine makes of `numbers` of the unit in SI base units, and `back` what it makes of those again.
Prints {"compared", "uncompared": {symbol: reason}, "wrong": [sentence]}; all is well where `wrong` is empty.
"""

import json
import re
import sys

import pint
import scipy.constants

# What pint does not know, and why. (Where it can be said in pint's units what a unit is, that is done in SPELLED.)
MONEY = "money; pint has none, and a rate is nobody's constant"
UNCOMPARED = dict.fromkeys("EUR USD GBP JPY CHF CNY INR CAD AUD SEK NOK DKK PLN BRL".split(), MONEY) | {
    "scf": "standard cubic foot as an amount of gas; pint has none, and standards differ in the temperature"
}

# Symbols that pint spells otherwise or takes for another unit.
SPELLED = {
    # Ratios
    "‰": "permille", "bp": "1e-4", "ppb": "1e-9", "ppt": "1e-12", "ppq": "1e-15", "r": "turn", "rev": "turn",
    "′": "arcminute", "″": "arcsecond",
    # Lengths, areas, volumes
    "ua": "astronomical_unit", "DM": "6000 * foot", "mil": "thou", "ac": "acre", "a": "are", "b": "bit",
    "bbl": "oil_barrel", "cords": "128 * foot**3", "st": "stere", "RT": "100 * foot**3", "gi": "gill",
    # Electricity: the electrostatic and electromagnetic units of the centimetre, gram and second
    "Gi": "gilbert", "statS": "statmho",
    # Energy, power, pressure, motion, mass
    "Eₕ": "hartree", "Btu": "Btu_it", "thm": "1e5 * Btu_it", "Cal": "kilocalorie", "Torr": "torr", "mTorr": "millitorr",
    "rph": "turn / hour", "var": "volt_ampere", "γ": "nanotesla", "AT": "175 / 6 * gram",
    # Light and amount
    "fl": "candela / foot**2 / π", "la": "lambert", "sb": "stilb", "ph": "lumen / centimeter**2", "fc": "lumen / foot**2",
    "mcd": "millicandela",
    # Information
    "o": "byte", "Sh": "bit", "nat": f"{1 / 0.6931471805599453!r} * bit",
    "Hart": f"{2.302585092994046 / 0.6931471805599453!r} * bit",
}
for prefix in "YZEPTGMk":
    SPELLED[prefix + "b"] = f"{prefix}bit"
for prefix in "YZEPTGMK":
    SPELLED[prefix + "ib"] = f"{prefix}ibit"

# Factors that uom, and with it the engine, carries to six or seven figures, or from an older adjustment of constants.
# Whatever is made of one of these agrees as far as that; a symbol that is exact after all is reported, so the list stays true.
ROUNDED = dict.fromkeys(
    "fathom AT pc ac bbl bu cords gi pk tbsp tsp RT dwt Gi statA statV statΩ statS statF statH Fr statC fc"
    .split(),
    1e-6,
) | {"Da": 2e-9} | dict.fromkeys(["Mx", "G", "Oe"], 1e-10)  # the magnetic constant, 4π·10⁻⁷ H/m until 2019
EXACT = 1e-12

# Scales with a zero of their own; inside a compound their degree is a difference.
SCALES = {"°C": "degree_Celsius", "degC": "degree_Celsius", "°F": "degree_Fahrenheit", "degF": "degree_Fahrenheit"}
BASE = {"L": "meter", "M": "kilogram", "T": "second", "I": "ampere", "Θ": "kelvin", "N": "mole", "J": "candela", "B": "byte"}
SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")

registry = pint.UnitRegistry()
# Units of the centimetre, gram and second have dimensions of their own in pint; these say how to leave them.
registry.enable_contexts("Gaussian", "ESU")


def factors(symbol):
    """A symbol's factors with their exponents: `W/(m·K)` is W, m⁻¹, K⁻¹."""
    sign, inside = 1, None
    for piece in re.findall(r"[·/()]|[^·/()]+", symbol):
        if piece == "/":
            sign = -1
        elif piece == "(":
            inside = sign
        elif piece == ")":
            inside = None
        elif piece != "·":
            name, exponent = re.fullmatch("(.+?)([⁰¹²³⁴⁵⁶⁷⁸⁹⁻]*)", piece).groups()
            yield name, sign * int(exponent.translate(SUPERSCRIPTS) or 1)
            sign = inside or 1


def size(symbol):
    """One of a unit (of a scale: one degree), as a pint quantity."""
    quantity = registry.Quantity(1.0)
    for name, exponent in factors(symbol):
        name = "delta_" + SCALES[name] if name in SCALES else SPELLED.get(name, name)
        quantity = quantity * registry.Quantity(1.0, "") * registry.parse_expression(name) ** exponent
    return quantity


def si_unit(dimension):
    """The SI unit of a dimension as the engine writes it, `L^2 M T^-2`."""
    powers = (term.partition("^") for term in dimension.split() if term != "1")
    return registry.parse_units(" * ".join(f"{BASE[base]}**{exponent or 1}" for base, _, exponent in powers) or "")


def both_ways(unit):
    """What pint makes of the same numbers: SI values, and those back in the unit."""
    target = si_unit(unit["dimension"])
    if unit["symbol"] in SCALES:
        scale = SCALES[unit["symbol"]]
        to_si = [registry.Quantity(number, scale).to(target).magnitude for number in unit["numbers"]]
        return to_si, [registry.Quantity(si, target).to(scale).magnitude for si in unit["si"]]
    one = size(unit["symbol"])
    to_si = [(number * one).to(target).magnitude for number in unit["numbers"]]
    return to_si, [(registry.Quantity(si, target).to(one.units) / one).magnitude for si in unit["si"]]


def tolerance(symbol):
    return sum((abs(exponent) * ROUNDED.get(name, 0) for name, exponent in factors(symbol)), EXACT)


def off(found, wanted):
    scale = max(abs(wanted), 1e-300)
    return abs(found - wanted) / scale


def compare_units(units):
    compared, wrong = 0, []
    for unit in units:
        symbol = unit["symbol"]
        if symbol in UNCOMPARED:
            continue
        try:
            to_si, back = both_ways(unit)
        except (pint.PintError, AssertionError) as problem:
            wrong.append(f"{symbol}: pint says {type(problem).__name__}: {problem}")
            continue
        compared += 1
        differences = [
            f"{number} {symbol} {way}: {ours!r}, pint {theirs!r}"
            for way, found, wanted in (("to SI", unit["si"], to_si), ("back", unit["back"], back))
            for number, ours, theirs in zip(unit["numbers"], found, wanted, strict=True)
            if off(ours, theirs) > tolerance(symbol)
        ]
        wrong += differences[:1]
        if symbol in ROUNDED and off(unit["si"][0], to_si[0]) <= EXACT:
            wrong.append(f"{symbol} is exact: strike it from ROUNDED")
    known = {unit["symbol"] for unit in units}
    names = known | {name for symbol in known for name, _ in factors(symbol)}
    wrong += [f"{symbol} is in UNCOMPARED, but no unit of the engine's" for symbol in UNCOMPARED if symbol not in known]
    wrong += [f"{name} is in SPELLED or ROUNDED, but in no unit of the engine's" for name in {**SPELLED, **ROUNDED} if name not in names]
    return compared, wrong


def compare_constants(constants):
    wrong = []
    for name, value in constants.items():
        wanted = CONSTANTS.get(name)
        if wanted is None:
            wrong.append(f"{name}: name its value in scipy.constants")
        elif off(value, wanted) > EXACT:
            wrong.append(f"{name}: {value!r}, scipy.constants {wanted!r}")
    return wrong


CONSTANTS = {
    "π": scipy.constants.pi,
    "pi": scipy.constants.pi,
    "e": 2.718281828459045,
    "c_0": scipy.constants.c,
    "h": scipy.constants.h,
    "q_e": scipy.constants.e,
    "k_B": scipy.constants.k,
    "N_A": scipy.constants.N_A,
}

if __name__ == "__main__":
    asked = json.load(sys.stdin)
    compared, wrong = compare_units(asked["units"])
    wrong += compare_constants(asked["constants"])
    json.dump({"compared": compared, "uncompared": UNCOMPARED, "wrong": wrong}, sys.stdout)
