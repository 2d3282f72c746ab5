"""What a correction did to the results, old against new."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.results import ProfileData, Result
from profiler.show.words import plus_minus, signed, three_figures


@dataclass(frozen=True, kw_only=True)
class Change:
    """One figure of one result before and after, in words with unit; equal: nothing to see."""

    result: str
    figure: str
    old: str
    new: str

    @property
    def equal(self) -> bool:
        """Whether both read alike."""
        return self.old == self.new


def changes(before: ProfileData | None, after: ProfileData) -> list[Change]:
    """Return the figures of every result, before against after; empty without a before."""
    if before is None:
        return []
    old = {_key(result): result for result in before.results}
    new = {_key(result): result for result in after.results}
    found = []
    for key in sorted(old.keys() | new.keys()):
        rows_old = _figures(old[key]) if key in old else {}
        rows_new = _figures(new[key]) if key in new else {}
        found += [
            Change(
                result=f"ISO {key[0]}, {key[1]}",
                figure=figure,
                old=rows_old.get(figure, "not there"),
                new=rows_new.get(figure, "not there"),
            )
            for figure in (rows_new or rows_old)
        ]
    return found


def by_result(found: list[Change]) -> list[tuple[str, list[Change]]]:
    """Return the changes of each result together, in their order."""
    grouped: dict[str, list[Change]] = {}
    for change in found:
        grouped.setdefault(change.result, []).append(change)
    return list(grouped.items())


def summary(found: list[Change]) -> str:
    """Return the changes in one sentence, for those who listen."""
    moved = [change for change in found if not change.equal]
    if not found:
        return ""
    if not moved:
        return "Fitted again: nothing changed within the digits shown."
    words = "; ".join(f"{c.result}: {c.figure} {c.old}, now {c.new}" for c in moved[:4])
    more = f"; and {len(moved) - 4} more" if len(moved) > 4 else ""
    return f"Fitted again. {words}{more}."


def _key(result: Result) -> tuple[int, str]:
    return result.iso, result.mode


def _figures(result: Result) -> dict[str, str]:
    used = sum(frame.used for frame in result.frames)
    return {
        "offset": f"{signed(result.offset_ev)} EV",
        "exposure index": f"EI {three_figures(result.exposure_index.value)}",
        "headroom": plus_minus(result.clip_headroom_ev, "stops"),
        "frames on the line": f"{used} of {len(result.frames)}",
    }
