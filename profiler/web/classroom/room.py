"""A class while it runs: who has which task, and who has answered. Nothing of it is kept."""

from __future__ import annotations

import secrets
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from profiler.simulate.hidden import Difficulty, Hidden, Judged, class_seeds, hide, judge
from profiler.web.tickets import Tickets, same

TEACHER: Final = "teacher"


@dataclass
class Seat:
    """A student: name, task, answer (fault -> size) once there is one, whether flags were shown."""

    name: str
    hidden: Hidden
    ticket: str = field(default_factory=lambda: secrets.token_urlsafe(16))
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    here: bool = False
    flags: bool = False
    said: dict[str, float] | None = None

    @property
    def judged(self) -> tuple[Judged, ...]:
        """What the answer is worth; without an answer everything counts as missed."""
        return judge(self.hidden, self.said or {})


class Room(Tickets):
    """The seats of a class; a link lets its student in as often as it is opened.

    `told`: whether the students are shown what was wrong; they can't answer any more then.
    """

    refusal = "Open the link that you were given: this page lets in nobody without it."

    def __init__(self, students: int, seed: int, difficulty: Difficulty) -> None:
        super().__init__()
        self.told = False
        self.teacher_ticket = secrets.token_urlsafe(16)
        self._seats = {
            f"student-{number:02d}": Seat(
                name=f"student-{number:02d}", hidden=hide(each, difficulty)
            )
            for number, each in enumerate(class_seeds(seed, students), start=1)
        }
        self._change = threading.Lock()

    @property
    def seats(self) -> list[Seat]:
        """All students, by name."""
        return list(self._seats.values())

    def take(self, given: str) -> bool:
        """Whether this is somebody's link."""
        return bool(self.secret_of(given))

    def secret_of(self, given: str) -> str:
        """Return what a browser that came by this link keeps in its cookie, "" for none."""
        if same(self.teacher_ticket, given):
            return self.secret
        for seat in self.seats:
            if same(seat.ticket, given):
                return seat.secret
        return ""

    def is_secret(self, given: str) -> bool:
        """Whether a browser came by somebody's link."""
        return bool(self.who(given))

    def who(self, kept: str) -> str:
        """Return TEACHER or the student whose cookie this is, "" for nobody."""
        if same(self.secret, kept):
            return TEACHER
        return next((seat.name for seat in self.seats if same(seat.secret, kept)), "")

    def seat(self, name: str) -> Seat:
        """Return a student's seat; KeyError for a name that isn't one."""
        return self._seats[name]

    def arrive(self, name: str, *, flags: bool) -> None:
        """Note that a student has opened the task, and whether with flags."""
        with self._change:
            seat = self._seats[name]
            seat.here = True
            seat.flags = seat.flags or flags

    def answer(self, name: str, said: Mapping[str, float]) -> bool:
        """Keep a student's answer; a later one replaces it. False once the truth is told."""
        with self._change:
            if self.told:
                return False
            self._seats[name].said = dict(said)
            return True

    def tell(self) -> None:
        """Show the students what was wrong."""
        with self._change:
            self.told = True
