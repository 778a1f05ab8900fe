"""The array types of this package."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
