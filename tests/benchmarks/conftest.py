"""The benches are commands as well as tests; their modules lie beside each other."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
