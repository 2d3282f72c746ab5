"""Metadata keys, in the order in which they are believed; names as in Exif 2.32 and Exiv2."""

from __future__ import annotations

from typing import Final

ISO_KEYS: Final = (
    "Exif.Photo.ISOSpeedRatings",
    "Exif.Photo.RecommendedExposureIndex",
    "Exif.Photo.StandardOutputSensitivity",
    "Exif.Photo.ISOSpeed",
    "Exif.Image.ISOSpeedRatings",
)
"""The 16-bit tag that everybody writes first; where it says 65535 ("look elsewhere"), the 32-bit
ones in our own order, for want of a source; the maker's own field comes last."""

TIME_KEYS: Final = ("Exif.Photo.ExposureTime", "Exif.Image.ExposureTime")
APERTURE_KEYS: Final = ("Exif.Photo.FNumber", "Exif.Image.FNumber")
LENS_KEYS: Final = ("Exif.Photo.LensModel",)
MODEL_KEYS: Final = ("Exif.Image.Model", "Exif.Image.UniqueCameraModel")
TAKEN_KEYS: Final = (
    "Exif.Photo.DateTimeOriginal",
    "Exif.Image.DateTimeOriginal",
    "Exif.Photo.DateTimeDigitized",
)
DRIVE_KEYS: Final = (
    "Exif.CanonCs.DriveMode",
    "Exif.Nikon3.ShootingMode",
    "Exif.OlympusCs.DriveMode",
    "Exif.Sony2.ReleaseMode",
    "Exif.Sony1.ReleaseMode",
    "Exif.Sony1MltCsA100.DriveMode",
    "Exif.MinoltaCsNew.DriveMode",
    "Exif.Fujifilm.Continuous",
    "Exif.Pentax.DriveMode",
    "Exif.PentaxDng.DriveMode",
    "Exif.Panasonic.BurstMode",
    "Exif.CanonFi.ShutterMode",
    "Exif.Nikon3.ShutterMode",
    "Exif.Fujifilm.ShutterType",
    "Exif.Panasonic.ShutterType",
    "Exif.CanonSi.AutoExposureBracketing",
)
"""The drive mode first, then what else may change a recording: shutter kind, bracketing."""
