"""Print the lowest versions that pyproject.toml allows, as a constraints file."""

import re
import sys
import tomllib
from pathlib import Path

project = tomllib.loads(Path("pyproject.toml").read_text(encoding="utf-8"))["project"]
for requirement in project["dependencies"]:
    match = re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)", requirement)
    if match is None:
        sys.exit(f"{requirement} has no lower bound")
    print(f"{match[1]}=={match[2]}")
