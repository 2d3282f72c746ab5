"""Logarithms, powers of two and range checks that serve plain numbers as well as arrays."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeVar

from profiler.errors import ExposureError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Quantity = TypeVar("Quantity", float, "NDArray[np.float64]", "float | NDArray[np.float64]")
"""A float, a float array, or either; numpy itself is only loaded when an array comes in."""

# Nothing in an exposure is beyond these; squares and inverses stay finite inside them.
_LEAST, _MOST = 1e-30, 1e30


def log2(value: Quantity) -> Quantity:
    """Base-2 logarithm; a plain number gives a plain float.

    >>> log2(8.0)
    3.0
    """
    if isinstance(value, (int, float)):
        return math.log2(value)
    import numpy as np

    array: NDArray[np.float64] = np.log2(value)
    return array


def exp2(value: Quantity) -> Quantity:
    """2 to the power of value; a plain number gives a plain float.

    >>> exp2(-1.0)
    0.5
    """
    if isinstance(value, (int, float)):
        if not value < 1000.0:
            raise ExposureError(
                f"{value:g} stops are beyond any exposure", "stops", "Look for a slip of the keys"
            )
        return math.exp2(value)
    import numpy as np

    array: NDArray[np.float64] = np.exp2(value)
    return array


def positive(value: Quantity, name: str, unit: str = "") -> Quantity:
    """The value itself, once every element is above 0 and within 1e-30 to 1e30; else ExposureError.

    >>> positive(3.0, "luminance", "cd/m2")
    3.0
    """
    if isinstance(value, (int, float)):
        worst = None if _LEAST < value < _MOST else float(value)
    else:
        bad = ~((value > _LEAST) & (value < _MOST))
        worst = float(value[bad][0]) if bad.any() else None
    if worst is not None:
        limit = "within 1e-30 to 1e30" if worst > 0.0 else "above 0"
        raise ExposureError(
            f"it must be a number {limit}{' ' + unit if unit else ''}, not {worst:g}",
            name,
            f"Give the {name}{' in ' + unit if unit else ''} as a number above 0",
        )
    return value


def not_negative(value: float, name: str) -> float:
    """The value itself, once it is 0 or more; else ExposureError.

    >>> not_negative(0.0, "density")
    0.0
    """
    if not 0.0 <= value < _MOST:
        raise ExposureError(
            f"it must be 0 or more, not {value:g}", name, f"Give the {name} as a positive number"
        )
    return value


def fraction(value: float, name: str) -> float:
    """The value itself, once it lies above 0 and at most 1; else ExposureError.

    >>> fraction(0.18, "reflectance")
    0.18
    """
    if not 0.0 < value <= 1.0:
        raise ExposureError(
            f"it must be above 0 and at most 1, not {value:g}",
            name,
            f"Give the {name} as a part of 1, such as 0.18 for 18 %",
        )
    return value
