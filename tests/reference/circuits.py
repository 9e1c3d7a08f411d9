"""Networks of resistances, currents and voltages by modified nodal analysis, dense, with `numpy.linalg.solve`.

Reads a list of {"nodes", "resistors": [[a, b, ohms]], "loads": [[from, to, amperes]], "sources": [[plus, minus, volts]]}; node 0
is ground, node 1 is at 9 V. Prints for each {"potentials": of nodes 2 and up, "currents": of the resistors, "through": of the
sources, from plus to minus}.
"""

import json
import sys

import numpy as np


def solved(asked):
    nodes, sources = asked["nodes"], asked["sources"]
    size = nodes + len(sources)
    a, b = np.zeros((size, size)), np.zeros(size)
    for first, second, ohms in asked["resistors"]:
        for own, other in ((first, second), (second, first)):
            a[own, own] += 1 / ohms
            a[own, other] -= 1 / ohms
    for source, sink, amperes in asked["loads"]:
        b[source] -= amperes
        b[sink] += amperes
    for row, (plus, minus, volts) in enumerate(sources, start=nodes):
        a[plus, row] += 1
        a[minus, row] -= 1
        a[row, plus] += 1
        a[row, minus] -= 1
        b[row] = volts
    for node, volts in ((0, 0.0), (1, 9.0)):
        a[node, :] = 0
        a[node, node] = 1
        b[node] = volts
    x = np.linalg.solve(a, b)
    currents = [(x[first] - x[second]) / ohms for first, second, ohms in asked["resistors"]]
    return {"potentials": list(x[2:nodes]), "currents": currents, "through": list(x[nodes:])}


json.dump([solved(asked) for asked in json.load(sys.stdin)], sys.stdout)
