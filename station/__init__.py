"""Landing Station: a live feedback station beside a treadmill."""

import os as _os

__version__ = "0.1.0"

# The station's matrices are tiny: numpy's own threads would only take the cores from the pose
# model, and wait for each other by spinning. It must be said before numpy is first imported.
_os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
