"""The quality lab's statistics: repeatability studies, control charts, capability. Numbers in, values out."""
