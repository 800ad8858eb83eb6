"""Settings for the whole test suite."""

import os

# Small dense work on two threads of a busy machine is many times slower than on one.
for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(name, "1")
