"""From bench tests to the numbers of a machine profile.

The fit solves thousands of systems of some 30 unknowns. OpenBLAS gives each of them to all cores, which on a
busy machine takes ten times as long as one core does (2 cores under load: 4-17 s for a book, 0.9 s with one
thread). It reads the variable as numpy is loaded, so it is set here, before any module of this folder does.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
