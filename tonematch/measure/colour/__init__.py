"""CIELAB and its differences."""
