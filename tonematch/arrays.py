"""Names for arrays of numbers: of any shape, of one colour, of its covariance."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Vector3 = NDArray[np.float64]
Matrix3 = NDArray[np.float64]
