"""Names of the arrays that signatures speak of, by what they hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]
"""Indices into another array."""
Bytes = NDArray[np.bytes_]
"""Cells as UTF-8 text, padded with nulls."""
