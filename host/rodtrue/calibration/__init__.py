"""Calibration: fits with covariance, the sensor's figures, the document, and the parts' budget without one."""
