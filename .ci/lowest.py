"""Prints the lowest versions that pyproject.toml states, one requirement a line.

python .ci/lowest.py >requirements.txt && pip install -r requirements.txt
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text())["project"]
for requirement in project["dependencies"]:
    name, lowest = re.fullmatch(r"([\w-]+)>=([\w.]+)", requirement).groups()
    print(f"{name}=={lowest}")
