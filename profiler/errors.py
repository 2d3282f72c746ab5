"""Every error that greytare shows a user says what, where and how to mend."""

from __future__ import annotations

#     GreytareError
#     ├── SheetError       the sheet, or a reading in it
#     ├── FrameError       a raw file that can't be measured
#     ├── MeasureError     the series as a whole: patch, black, clip, line
#     ├── ProfileError     a saved profile, or a request it can't answer
#     └── ExposureError    a quantity typed by the user: unit, mark, range


class GreytareError(Exception):
    """What went wrong, where it was seen, and how to mend it."""

    def __init__(self, what: str, where: str, mend: str) -> None:
        super().__init__(what, where, mend)  # all three, so that it survives pickling
        self.what, self.where, self.mend = what, where, mend

    def __str__(self) -> str:
        return f"{self.where}: {self.what}. {self.mend}."


class SheetError(GreytareError):
    """The sheet or a reading in it can't be used."""


class FrameError(GreytareError):
    """A raw file can't be measured."""


class MeasureError(GreytareError):
    """The series as a whole doesn't hold what a result needs."""


class ProfileError(GreytareError):
    """A saved profile can't be read, or doesn't hold what was asked of it."""


class ExposureError(GreytareError):
    """A quantity given by the user has no meaning as it stands."""
