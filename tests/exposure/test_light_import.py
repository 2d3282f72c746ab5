"""The arithmetic starts without any heavy library."""

from __future__ import annotations

import subprocess
import sys

CODE = """
import sys
from profiler.exposure import (
    apex, filters, flicker, light, lighting, readings, stops, units,
)
from profiler.records import Meter
readings.parse_reading("EV 10.3").metered_ev100("spot", Meter())
stops.nearest_iso_mark(276.0)
print(sorted({"numpy", "scipy", "pandas", "matplotlib", "pydantic", "rich"} & set(sys.modules)))
"""


def test_no_heavy_library_is_loaded() -> None:
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
