"""Names of the arrays that pass between modules."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Real numbers, in double precision.
Array = NDArray[np.float64]
#: Complex numbers, in double precision.
ComplexArray = NDArray[np.complex128]
#: Numbers of vertices, cells, unknowns.
Numbers = NDArray[np.int64]
