"""tonematch: measure new gilding against old, and plan the toning that makes them one."""

__version__ = "0.1.0"
