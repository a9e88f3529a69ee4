"""Kinematics of the throttle linkage, one module a layout. Positions in mm, as driving-end equivalents."""
