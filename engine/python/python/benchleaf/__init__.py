r"""Worksheets at many values of their givens, on NumPy arrays.

    >>> import numpy as np
    >>> from benchleaf import Worksheet
    >>> pulse = Worksheet("```calc\nR = 910 kΩ ± 5 %\nC = 22 µF\nt [s] = R * C\nkeep t below 30 s\n```\n")
    >>> points = pulse.vary({"R": np.array([1e5, 1e6, 2e6])}, values=["t"])
    >>> points["t"].tolist()
    [2.1999999999999997, 22.0, 44.0]
    >>> points.broken[5].tolist()
    [False, False, True]
"""

import os

import numpy as np

from . import _benchleaf
from ._benchleaf import WorksheetError

__all__ = ["Points", "Worksheet", "WorksheetError"]


class Points(dict):
    """The values of each name at every point: arrays of the points' shape, in SI units.

    A value that is undefined is nan; a condition is 1 or 0.

    broken: for each requirement, by its line in the worksheet, an array of truth values: whether it fails at the nominal
        values. One that does not may still fail in builds around them.
    doubtful: an array of truth values: whether a model was used outside the range that it is good for, or the solution of
        a circuit took for granted what is not so.
    """

    def __init__(self, values, broken, doubtful):
        super().__init__(values)
        self.broken = broken
        self.doubtful = doubtful


class Worksheet:
    """A worksheet, by the path of its file or by its text. A text has a line break in it, and a path has none."""

    def __init__(self, path_or_text):
        path = os.fspath(path_or_text)
        if "\n" in path:
            self._state = (path, "worksheet.md")
        else:
            with open(path, encoding="utf-8-sig", newline="") as file:
                self._state = (file.read(), path)
        self._studies = {}

    def __reduce__(self):
        # A process elsewhere need not have the file; but those that it uses have to be there.
        return _of_state, (self._state,)

    def vary(self, changes, values=None):
        """Works the worksheet out at many points, at nominal values alone.

        changes: new values of givens by name. Each is a number or an array of numbers in the SI unit of its quantity (Ω, F,
            m, K), or a text such as "910 kΩ" for all points. Arrays are brought to one shape as NumPy does.
        values: the names of the values to give; without it all that are worked out.

        Gives Points. Raises WorksheetError where the worksheet holds an error, KeyError for a name that it does not have,
        and ValueError for a value that does not fit.
        """
        study = self._study(tuple(values or ()))
        texts = [(name, value) for name, value in changes.items() if isinstance(value, str)]
        numbers = {name: np.asarray(value) for name, value in changes.items() if not isinstance(value, str)}
        for name, column in numbers.items():
            if column.dtype.kind not in "iuf":
                raise ValueError(f"the new values of `{name}` are no numbers")
        shape = np.broadcast_shapes(*(column.shape for column in numbers.values()))
        count = int(np.prod(shape, dtype=np.int64))
        columns = [
            (name, np.ascontiguousarray(np.broadcast_to(column, shape), dtype=np.float64).reshape(count))
            for name, column in numbers.items()
        ]
        found = [np.empty(count) for _ in study.values]
        broken = [np.empty(count, dtype=np.uint8) for _ in study.keeps]
        doubtful = np.empty(count, dtype=np.uint8)
        study.vary(count, texts, columns, found, broken, doubtful)
        return Points(
            {name: column.reshape(shape) for name, column in zip(study.values, found)},
            {line: column.astype(bool).reshape(shape) for line, column in zip(study.keeps, broken)},
            doubtful.astype(bool).reshape(shape),
        )

    def _study(self, values):
        if values not in self._studies:
            text, path = self._state
            self._studies[values] = _benchleaf.Study(text, path, list(values))
        return self._studies[values]


def _of_state(state):
    worksheet = Worksheet.__new__(Worksheet)
    worksheet._state = state
    worksheet._studies = {}
    return worksheet
