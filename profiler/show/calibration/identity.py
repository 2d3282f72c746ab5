"""Body, lens, meter, light and date of a profile in words."""

from __future__ import annotations

from profiler.results import MeterIdentity, ProfileData
from profiler.show.words import listed


def identity(profile: ProfileData) -> list[tuple[str, str]]:
    """Return body, lens, meter with serials, the light and the date, as pairs of name and text."""
    meter = profile.meter
    name = full_name(meter.make, meter.model) or "not named"
    lights = listed(list(dict.fromkeys(result.light for result in profile.results)))
    return [
        ("body", body(profile)),
        ("lens", profile.lens.model or "not named"),
        ("meter", name + serial(meter.serial)),
        ("its constants", constants(meter)),
        ("light", lights),
        ("date", day(profile)),
    ]


def who(profile: ProfileData) -> str:
    """Return body, lens, meter, lights and date in one line, to tell profiles apart."""
    meter = profile.meter
    return "; ".join(
        (
            body(profile),
            profile.lens.model or "lens not named",
            full_name(meter.make, meter.model) or "meter not named",
            listed(list(dict.fromkeys(result.light for result in profile.results))),
            day(profile),
        )
    )


def title(profile: ProfileData) -> str:
    """Return what a profile is about."""
    camera = profile.camera
    return f"Profile of {full_name(camera.make, camera.model) or 'a body without a name'}"


def body(profile: ProfileData) -> str:
    """Return the body with its serial, or that its files name none."""
    camera = profile.camera
    named = full_name(camera.make, camera.model)
    if named and not camera.serial:
        return f"{named}, its files give no serial number"
    return (named or "not named in its files") + serial(camera.serial)


def full_name(make: str, model: str) -> str:
    """Return make and model, the make once where the model repeats it."""
    return model if model.lower().startswith(make.lower()) else f"{make} {model}".strip()


def serial(number: str) -> str:
    """Return a serial number as it stands after a name."""
    return f", serial {number}" if number else ""


def constants(meter: MeterIdentity) -> str:
    """Return the constants that the readings were taken by."""
    step = (
        "its step as typed" if meter.resolution_ev is None else f"step {meter.resolution_ev:g} EV"
    )
    return (
        f"K {meter.k_cd_m2:g} cd/m²; C {meter.c_flat_lx:g} lx flat, {meter.c_dome_lx:g} lx dome; "
        f"repeats to ±{meter.repeatability_ev:g} EV, {step}"
    )


def day(profile: ProfileData) -> str:
    """Return the day on which its frames were shot; of the fit where no frame tells it."""
    return (profile.provenance.taken or profile.provenance.created).partition("T")[0]
