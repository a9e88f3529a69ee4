"""What the benchmarks of the analysis share: runs from both generators, their scores, and the pages they go on."""
