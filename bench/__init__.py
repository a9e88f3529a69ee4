"""Benchmarks and studies, run by hand: `python -m bench`, or one of them: `python -m bench.demo_study`."""
