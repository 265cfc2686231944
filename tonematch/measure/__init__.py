"""A Photo and areas become a Calibration, Readings and a Comparison."""
