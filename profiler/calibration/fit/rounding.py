"""What rounding to whole codes leaves of the error of a mean level."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def rounding_u_dn(
    variance_dn2: NDArray[np.float64], step_dn: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the standard uncertainty in DN that rounding leaves in means over a patch.

    Noise s carries a level over the edges of a code, and the mean of many pixels comes right. What
    is left is a wave over the level with the amplitude q/pi exp(-2 pi^2 s^2/q^2), q the step: the
    first term of the Fourier series of the rounding error, each term damped by the noise. Without
    noise the error is a rectangle, q/sqrt(12); that much is damped likewise. Noise: the variance
    found, less the q^2/12 that rounding adds on average. Below 0.3 q of noise the result is up to
    three times the true one, since a patch in the middle of a code shows less noise than it has.
    """
    noise_dn2 = np.maximum(variance_dn2 - step_dn**2 / 12.0, 0.0)
    damped = np.exp(-2.0 * math.pi**2 * noise_dn2 / np.maximum(step_dn, 1e-9) ** 2)
    u: NDArray[np.float64] = step_dn / math.sqrt(12.0) * damped
    return u
