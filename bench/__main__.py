"""Run every benchmark and study of this folder, one after the other; last the pages that read their results."""

from __future__ import annotations

import importlib
import pkgutil

import bench

READ_RESULTS = ("summary", "speed_table")

found = [module.name for module in pkgutil.iter_modules(bench.__path__) if not module.ispkg]
runs = [name for name in found if name not in ("__main__", *READ_RESULTS)]
for name in (*runs, *READ_RESULTS):
    print(f"== {name}", flush=True)
    importlib.import_module(f"bench.{name}").main()
