"""Series that come as 16 bit linear TIFF or PNG mosaics, with a sheet that tells the rest."""

from __future__ import annotations

import csv

import imageio.v3 as imageio
import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.errors import GreytareError
from profiler.files.sheet import read_sheet
from profiler.frames.cache import MeasureCache
from profiler.simulate.marks import marked_value
from profiler.simulate.truth import result as true_result


def write(folder, suffix: str, columns: tuple[str, ...]):
    """The frames as bare mosaics, and a sheet with the given columns."""
    spec = simulate.standard_series(simulate.load_body("halden-h2"), 8, labels=(400,), darks=0)
    body = spec.body
    rows = [{"file": "*", "reading": "EV 10.0", "mode": "spot", "cfa": body.cfa}]
    ev100 = 10.0
    for number, (shot, mosaic) in enumerate(simulate.render(spec)):
        name = f"frame{number}{suffix}"
        imageio.imwrite(folder / name, mosaic[body.masked_top :, body.masked_left :])
        rows.append(
            {
                "file": name,
                "iso": shot.iso,
                "time": marked_value(shot.time),
                "aperture": shot.aperture,
            }
        )
    with (folder / "sheet.csv").open("w", newline="") as out:
        writer = csv.DictWriter(out, columns, restval="", extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)
    return spec, ev100


COLUMNS = ("file", "reading", "mode", "iso", "time", "aperture", "cfa")


@pytest.mark.parametrize("suffix", [".tif", ".png"])
def test_sheet_gives_what_the_file_lacks(suffix, tmp_path):
    spec, ev100 = write(tmp_path, suffix, COLUMNS)
    sheet = read_sheet(tmp_path / "sheet.csv")
    cache = MeasureCache(tmp_path / "cache")
    profile = pipeline.fit(pipeline.measure(tmp_path, sheet, cache=cache), sheet)
    cache.close()
    (result,) = profile.results
    true = true_result(spec, 400, "spot")
    # the simulated light is on a tenth of its own; the sheet says EV 10.0
    from profiler.simulate.scene import metered_ev100

    moved = ev100 - metered_ev100(spec.scene, spec.meter, "spot")
    assert result.offset_ev.value - moved == pytest.approx(true["offset_ev"], abs=0.01)
    assert set(result.channels) == {"R", "G1", "G2", "B"}
    assert result.channels["R"].clip_dn == true["channels"]["R"]["clip_dn"]


def test_without_the_order_of_colours(tmp_path):
    write(tmp_path, ".tif", COLUMNS[:-1])
    cache = MeasureCache(tmp_path / "cache")
    sheet = read_sheet(tmp_path / "sheet.csv")
    with pytest.raises(GreytareError, match="cfa"):
        pipeline.measure(tmp_path, sheet, cache=cache)
    cache.close()


def test_without_a_time(tmp_path):
    write(tmp_path, ".png", tuple(c for c in COLUMNS if c != "time"))
    cache = MeasureCache(tmp_path / "cache")
    sheet = read_sheet(tmp_path / "sheet.csv")
    measurement = pipeline.measure(tmp_path, sheet, cache=cache, patch="0.4,0.4,0.2,0.2")
    cache.close()
    with pytest.raises(GreytareError, match=r"give the time of every frame\. Fill the column time"):
        pipeline.fit(measurement, sheet)
