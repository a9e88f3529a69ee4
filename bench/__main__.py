"""Run every benchmark and study of this folder, one after the other."""

from __future__ import annotations

import importlib
import pkgutil

import bench

for module in pkgutil.iter_modules(bench.__path__):
    if module.name != "__main__" and not module.ispkg:
        print(f"== {module.name}", flush=True)
        importlib.import_module(f"bench.{module.name}").main()
