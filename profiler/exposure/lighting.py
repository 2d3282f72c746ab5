"""Sums of light: flash with ambient, several pops, key with fill, distance, guide numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from profiler import standards
from profiler.errors import ExposureError
from profiler.exposure.quantities import exp2, positive


def sum_of_f_numbers(*f_numbers: float) -> float:
    """f-number for all lights together: exposures add, so N = sqrt(sum N_i^2) (common practice).

    Exact f-numbers: a marked f/5.6 for f/5.657 costs 0.01 EV in the sum with f/8.

    >>> round(sum_of_f_numbers(8.0, 8.0), 3)
    11.314
    """
    if not f_numbers:
        raise TypeError("sum_of_f_numbers needs at least one f-number")
    return math.hypot(*(positive(n, "f-number") for n in f_numbers))


def pops_ev(pops: float) -> float:
    """Stops gained by n equal pops over one: log2 n.

    >>> pops_ev(4), round(pops_ev(3), 4)
    (2.0, 1.585)
    """
    return math.log2(_at_least_one(pops, "number of pops"))


def f_number_for_pops(f_number: float, pops: float) -> float:
    """f-number for n equal pops, from that of one: N sqrt n.

    >>> f_number_for_pops(8.0, 4)
    16.0
    """
    return positive(f_number, "f-number") * exp2(pops_ev(pops) / 2.0)


# --- flash with ambient --------------------------------------------------------------------


def flash_over_ambient_ev(flash_f_number: float, ambient_f_number: float) -> float:
    """Stops that flash alone lies over ambient alone: 2 log2(N_flash/N_ambient), at one time.

    A flash meter's own reading already holds the ambient light of its gate time (ISO 10157:1991
    scope), so read flash alone, or take the ambient off first.

    >>> flash_over_ambient_ev(8.0, 4.0)
    2.0
    """
    flash = positive(flash_f_number, "f-number of the flash")
    return 2.0 * math.log2(flash / positive(ambient_f_number, "f-number of the ambient light"))


def flash_share(flash_over_ambient: float) -> float:
    """Part of the light that is flash, 0 to 1, flash being that many stops over: 2^d/(1 + 2^d).

    >>> flash_share(0.0), flash_share(2.0)
    (0.5, 0.8)
    """
    return exp2(-total_over_flash_ev(flash_over_ambient))


def flash_over_ambient_from_share(share: float) -> float:
    """Stops that flash must lie over ambient for a share of the light: log2(p/(1 - p)).

    >>> round(flash_over_ambient_from_share(0.8), 6)
    2.0
    """
    if not 0.0 < share < 1.0:
        raise ExposureError(
            f"it must lie between 0 and 1, not {share:g}",
            "flash share",
            "Give the wanted part of the light that is flash, such as 0.7",
        )
    return math.log2(share) - math.log2(1.0 - share)


def total_over_ambient_ev(flash_over_ambient: float) -> float:
    """Stops that flash and ambient together lie over ambient alone: log2(1 + 2^d).

    >>> total_over_ambient_ev(0.0)
    1.0
    """
    small = exp2(-abs(flash_over_ambient))
    return max(flash_over_ambient, 0.0) + math.log1p(small) / math.log(2.0)


def total_over_flash_ev(flash_over_ambient: float) -> float:
    """Stops that flash and ambient together lie over flash alone: log2(1 + 2^-d).

    >>> total_over_flash_ev(0.0)
    1.0
    """
    return total_over_ambient_ev(-flash_over_ambient)


@dataclass(frozen=True, kw_only=True)
class ShareChange:
    """Two ways to a wanted flash share; positive stops: more flash, longer time, close the iris.

    By power: change the flash by flash_power_ev, then close the iris by close_after_power_ev to
    keep the sum of the light as it was. By time: change the time by time_ev (below the flash
    synchronisation limit), then close the iris by close_after_time_ev. The iris alone changes both
    lights alike, so it never changes the share.
    """

    flash_power_ev: float
    close_after_power_ev: float
    time_ev: float
    close_after_time_ev: float

    @property
    def time_factor(self) -> float:
        """What the time is multiplied by: 2^time_ev."""
        return exp2(self.time_ev)


def reach_flash_share(flash_over_ambient: float, share: float) -> ShareChange:
    """What to change so that flash makes that share of the light (derived: ambient scales with t).

    >>> change = reach_flash_share(0.0, 0.8)
    >>> round(change.flash_power_ev, 3), round(change.time_factor, 3)
    (2.0, 0.25)
    >>> round(change.close_after_power_ev, 3), round(change.close_after_time_ev, 3)
    (1.322, -0.678)
    """
    wanted = flash_over_ambient_from_share(share)
    shift = wanted - flash_over_ambient
    by_power = total_over_ambient_ev(wanted) - total_over_ambient_ev(flash_over_ambient)
    by_time = total_over_flash_ev(wanted) - total_over_flash_ev(flash_over_ambient)
    return ShareChange(
        flash_power_ev=shift,
        close_after_power_ev=by_power,
        time_ev=0.0 - shift,
        close_after_time_ev=by_time,
    )


# --- key and fill --------------------------------------------------------------------------


def lighting_ratio(key: float, *fills: float) -> float:
    """Lighting ratio r : 1 from illuminances in one unit: (key + fills)/fills.

    200 with 100 fc is 3:1, 800 with 200 is 5:1 (Wikipedia "Lighting ratio", crediting the ASC). An
    older edition of that text has 800 with 200 as 4:1, which is plain key : fill.

    >>> lighting_ratio(800.0, 200.0)
    5.0
    """
    if not fills:
        raise TypeError("lighting_ratio needs at least one fill")
    fill = math.fsum(positive(each, "fill light") for each in fills)
    return (positive(key, "key light") + fill) / fill


def key_to_fill(key_over_fill_ev: float) -> float:
    """Plain key : fill from stops: 2^d, so two stops are 4:1 here and 5:1 as lighting ratio.

    >>> key_to_fill(2.0)
    4.0
    """
    return exp2(key_over_fill_ev)


def key_over_fill_ev(ratio: float) -> float:
    """Stops that key alone lies over fill alone at a lighting ratio r : 1: log2(r - 1).

    >>> key_over_fill_ev(5.0)
    2.0
    """
    if not ratio > 1.0:
        raise ExposureError(
            f"a lighting ratio is above 1, not {ratio:g}",
            "lighting ratio",
            "Give (key + fill) : fill, such as 3 for 3:1",
        )
    return math.log2(positive(ratio, "lighting ratio") - 1.0)


def lit_over_shadow_ev(ratio: float) -> float:
    """Stops that the lit side lies over the shadow side at a lighting ratio r : 1: log2 r.

    Two stops are 4:1 between lit side and shadow side only; key over fill they make 5:1.

    >>> lit_over_shadow_ev(4.0)
    2.0
    """
    return math.log2(_at_least_one(ratio, "lighting ratio"))


# --- distance, guide numbers ---------------------------------------------------------------


def distance_change_ev(from_m: float, to_m: float) -> float:
    """Stops of light gained on moving a small lamp: 2 log2(from/to); nearer is positive.

    >>> distance_change_ev(2.0, 4.0)
    -2.0
    """
    return 2.0 * math.log2(positive(from_m, "distance", "m") / positive(to_m, "distance", "m"))


def f_number_at(guide_m: float, distance_m: float) -> float:
    """f-number that a guide number in m gives at a distance: N = GN/d.

    >>> f_number_at(40.0, 5.0)
    8.0
    """
    return positive(guide_m, "guide number", "m") / positive(distance_m, "distance", "m")


def scaled_guide_number_m(guide_m: float, iso: float = 100.0, power_ev: float = 0.0) -> float:
    """Guide number in m for another ISO or power than ISO 100, full: GN sqrt(S/100 2^ev).

    >>> scaled_guide_number_m(40.0, iso=400.0), scaled_guide_number_m(40.0, power_ev=-2.0)
    (80.0, 20.0)
    """
    scale = math.sqrt(positive(iso, "ISO") / 100.0) * exp2(power_ev / 2.0)
    return positive(guide_m, "guide number", "m") * scale


def guide_number_ft(guide_m: float) -> float:
    """Guide number in feet of one in m.

    >>> round(guide_number_ft(40.0), 2)
    131.23
    """
    return guide_m / standards.M_PER_FT.value


def candela_seconds_from_guide(
    guide_m: float, iso: float = 100.0, c_lx: float = standards.METER_C_FLAT.value
) -> float:
    """Effective candela-seconds of a flash: B = GN^2 C/S, GN in m (derived from E = B/d^2).

    With C = 250 lx this is GN_ft = sqrt(0.0431 B S); the traditional formula has 0.05 to 0.063
    (from memory), 0.2 to 0.55 EV away. Don't mix the two.

    >>> candela_seconds_from_guide(40.0)
    4000.0
    """
    return positive(guide_m, "guide number", "m") ** 2 * c_lx / positive(iso, "ISO")


def flash_exposure_lx_s(
    f_number: float, iso: float, c_lx: float = standards.METER_C_FLAT.value
) -> float:
    """Incident exposure in lx s that a flash meter shows as an f-number: C N^2/S (from memory).

    >>> flash_exposure_lx_s(8.0, 100.0)
    160.0
    """
    return c_lx * positive(f_number, "f-number") ** 2 / positive(iso, "ISO")


def _at_least_one(value: float, name: str) -> float:
    if not 1.0 <= value < math.inf:
        raise ExposureError(
            f"it must be 1 or more, not {value:g}", name, f"Give the {name} as a number from 1 up"
        )
    return float(value)
