"""What a correction did to the results, old against new."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.results import ProfileData
from profiler.show.answer import Answer
from profiler.show.calibration.result import result_answer


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
    old, new = _figures(before), _figures(after)
    return [
        Change(
            result=name,
            figure=figure,
            old=old.get(name, {}).get(figure, "not there"),
            new=new.get(name, {}).get(figure, "not there"),
        )
        for name in (*new, *(name for name in old if name not in new))
        for figure in new.get(name) or old[name]
    ]


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


def _figures(profile: ProfileData) -> dict[str, dict[str, str]]:
    """Label and mode of each result -> its figures, and how many frames they rest on."""
    return {
        f"ISO {result.iso}, {result.mode}": _compared(result_answer(result))
        for result in profile.results
    }


def _compared(answer: Answer) -> dict[str, str]:
    frames = (fact for fact in answer.rows if fact.name == "frames")
    return {fact.name: fact.text for fact in (*answer.figures, *frames)}
