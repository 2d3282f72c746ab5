"""What the errors of two results have in common.

A budget counts the meter's and the card's errors with every result. In a difference they cancel as
far as they are one and the same error. The choice made here:

* the meter's calibration, where a budget has it: common to all results of one meter;
* its repeatability: half of its variance common to all results of one meter. The limits of +-0.1 EV
  that the trade states hold slow errors (adjustment, colour of the light, cell), which stay, as
  well as the scatter from reading to reading, which doesn't (common practice, no source); the part
  is a parameter. Within one session (the same reading for all) it is common as a whole;
* its display step: common within one session only;
* the card: common where the same card is named;
* everything else (frames, clip, black, aperture mark, drift of the light): never.

A meter without a serial is never the same meter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from profiler.fleet.columns import METER, Rows
from profiler.fleet.rows import Row
from profiler.results import Source

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

METERED = ("offset_ev", "clip_headroom_ev", "linear_headroom_ev")
"""Quantities that rest on the meter's reading with sensitivity 1."""
_LEAST_EV2 = 1e-8
"""Nothing is known to better than 0.0001 EV: keeps a variance positive."""


@dataclass(frozen=True, kw_only=True)
class Correlation:
    """repeatability: part (0 to 1) of the variance that is common to all results of one meter."""

    repeatability: float = 0.5

    def __post_init__(self) -> None:
        if not 0.0 <= self.repeatability <= 1.0:
            raise ValueError(f"a part lies between 0 and 1, not {self.repeatability}")


@dataclass(frozen=True, kw_only=True)
class SharedSource:
    """One source: its standard uncertainty in each result, and with whom each one has it in common.

    group: results of the same number share one error; -1 shares with nobody.
    """

    source: Source
    u_ev: NDArray[np.float64]
    group: NDArray[np.int64]


def shared_sources(rows: Sequence[Row], quantity: str, sharing: Correlation) -> list[SharedSource]:
    """Return the sources that results may have in common; the rest is each one's own."""
    import numpy as np

    if quantity not in METERED:
        return []
    table = Rows.of(rows)
    known = ~table.text("meter_serial").are("")
    meters = np.where(known, table.key(*METER), -1)
    in_session = known & ~table.text("session").are("")
    sessions = np.where(in_session, table.key(*METER, "session"), -1)
    card = table.text("card")
    cards = np.where(card.are(""), -1, card.codes)
    repeat = table.number("shared_repeatability_ev")
    return [
        SharedSource(
            source=Source.METER_CALIBRATION,
            u_ev=table.number("shared_calibration_ev"),
            group=meters,
        ),
        SharedSource(
            source=Source.METER_REPEATABILITY,
            u_ev=repeat * math.sqrt(sharing.repeatability),
            group=meters,
        ),
        SharedSource(
            source=Source.ONE_READING,
            u_ev=np.sqrt(
                repeat**2 * (1.0 - sharing.repeatability)
                + table.number("shared_resolution_ev") ** 2
            ),
            group=sessions,
        ),
        SharedSource(
            source=Source.CARD_REFLECTANCE,
            u_ev=table.number("shared_card_ev"),
            group=cards,
        ),
    ]


def factors(
    rows: Sequence[Row], quantity: str, sharing: Correlation
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return each result's own variance (n, EV^2) and the loads of common errors (n, k, EV).

    The covariance matrix is diag(own) + loads loads^T; one column for each error that two results
    or more have in common.
    """
    import numpy as np

    columns = []
    for share in shared_sources(rows, quantity, sharing):
        members = np.bincount(share.group[share.group >= 0], minlength=1)
        for number in np.flatnonzero(members > 1):
            column = np.where(share.group == number, share.u_ev, 0.0)
            if np.count_nonzero(column) > 1:
                columns.append(column)
    loads = np.column_stack(columns) if columns else np.zeros((len(rows), 0))
    whole = np.array([_u(row, quantity) ** 2 for row in rows])
    own: NDArray[np.float64] = np.maximum(whole - (loads**2).sum(axis=1), _LEAST_EV2)
    return own, loads


def covariances(
    table: Rows, quantity: str, sharing: Correlation, places: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the covariance matrices (g, m, m; EV^2) of g histories of m rows each.

    places: rows of the table (g, m). The second value holds each row's own variance (g, m).
    """
    import numpy as np

    u = table.values(quantity).u[places]
    matrix = np.zeros((*places.shape, places.shape[1]))
    others = ~np.eye(places.shape[1], dtype=bool)
    common = np.zeros(places.shape)
    for share in shared_sources(table, quantity, sharing):
        part, group = share.u_ev[places], share.group[places]
        alike = (group[:, :, None] == group[:, None, :]) & (group >= 0)[:, :, None] & others
        both = part[:, :, None] * part[:, None, :] * alike
        matrix += both
        common += part**2 * (both > 0.0).any(axis=2)
    own = np.maximum(u**2 - common, _LEAST_EV2)
    k = np.arange(places.shape[1])
    matrix[:, k, k] = own + common
    return matrix, own


def covariance(rows: Sequence[Row], quantity: str, sharing: Correlation) -> NDArray[np.float64]:
    """Return the covariance matrix (EV^2) of a quantity of few rows."""
    import numpy as np

    own, loads = factors(rows, quantity, sharing)
    matrix: NDArray[np.float64] = np.diag(own) + loads @ loads.T
    return matrix


def difference_u(a: Row, b: Row, quantity: str, sharing: Correlation) -> tuple[float, float]:
    """Return the standard uncertainty of a - b in EV and the correlation of the two.

    u^2 = u_a^2 + u_b^2 - 2 cov(a, b) (JCGM 100:2008, 5.2.2).
    """
    matrix = covariance((a, b), quantity, sharing)
    u_d = math.sqrt(max(0.0, matrix[0, 0] + matrix[1, 1] - 2.0 * matrix[0, 1]))
    both = math.sqrt(matrix[0, 0] * matrix[1, 1])
    return u_d, float(matrix[0, 1] / both) if both else 0.0


def common_sources(a: Row, b: Row, quantity: str, sharing: Correlation) -> dict[str, float]:
    """Return source -> the standard uncertainty that a and b have in common, in EV."""
    out: dict[str, float] = {}
    for share in shared_sources((a, b), quantity, sharing):
        if share.group[0] == share.group[1] >= 0 and share.u_ev[0] * share.u_ev[1] > 0.0:
            out[share.source] = math.sqrt(float(share.u_ev[0] * share.u_ev[1]))
    return out


def _u(row: Row, quantity: str) -> float:
    value = row.value(quantity)
    if value is None:
        raise ValueError(f"{row.series} has no {quantity}")
    return value.u
