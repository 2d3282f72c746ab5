"""Labels and markers of a scale moved apart where they crowd."""

from __future__ import annotations

from collections.abc import Sequence


def spread(values: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return positions at least `gap` apart, each as near to its value as its neighbours allow.

    Values that crowd share a block centred on their mean; blocks are merged until none overlap
    (pool adjacent violators), then kept inside low..high.

    >>> [round(x, 2) for x in spread([1.0, 1.1, 5.0], 0.5, 0.0, 10.0)]
    [0.8, 1.3, 5.0]
    """
    order = sorted(range(len(values)), key=lambda i: values[i])
    # of a block: members, and the start that puts it nearest to all of them
    blocks: list[tuple[list[int], float]] = []
    for index in order:
        members, start = [index], values[index]
        while blocks and blocks[-1][1] + gap * len(blocks[-1][0]) > start:
            members = blocks.pop()[0] + members
            ideal = [values[i] - gap * k for k, i in enumerate(members)]
            start = sum(ideal) / len(ideal)
        blocks.append((members, start))
    positions = [0.0] * len(values)
    below = low
    for members, start in blocks:
        start = max(start, below)
        for k, i in enumerate(members):
            positions[i] = start + gap * k
        below = start + gap * len(members)
    above = high
    for index in reversed(order):
        positions[index] = min(positions[index], above)
        above = positions[index] - gap
    return positions


def lanes(values: Sequence[float], gap: float, count: int) -> list[int]:
    """Return side-by-side lanes, 0 to count - 1, for falling values: neighbours within gap differ.

    >>> lanes([3.0, 2.9, 2.8, 0.0], 0.5, 4)
    [0, 1, 2, 0]
    """
    taken: list[int] = []
    for i, value in enumerate(values):
        used = {taken[k] for k in range(i) if abs(values[k] - value) < gap}
        free = [lane for lane in range(count) if lane not in used]
        taken.append(free[0] if free else (taken[-1] + 1) % count)
    return taken
