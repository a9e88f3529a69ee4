"""Benchmarks and studies, run by hand: `python -m bench`, or one of them: `python -m bench.demo_study`.

Numerical libraries get one thread: two worker processes share two cores, and times are compared.
"""

import os

for _variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_variable, "1")
