"""Print the oldest version that pyproject.toml states for each thing the package needs, as pip's constraints."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
for needed in project["dependencies"]:
    found = re.fullmatch(r"([A-Za-z0-9_.\-]+)\s*>=\s*([0-9.]+)", needed)
    if found:
        print(f"{found[1]}=={found[2]}")
# pyparsing 3.3 warns of names that the oldest matplotlib still uses, and a warning is an error in the tests.
print("pyparsing<3.3")
