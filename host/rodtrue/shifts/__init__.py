"""Shift points of the 2-3 shift valve from a force balance, for an exact rod and for a wrong one.

README.md beside this file has the equations, the areas, the assumptions and what breaks them.
"""
