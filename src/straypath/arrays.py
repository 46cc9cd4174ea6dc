"""Names for the arrays that are passed around."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

AnyArray = NDArray[Any]
BoolArray = NDArray[np.bool_]
ComplexArray = NDArray[np.complex128]
IntArray = NDArray[np.int64]
FloatArray = NDArray[np.floating[Any]]
Float64Array = NDArray[np.float64]
