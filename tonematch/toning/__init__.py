"""Trials become a LayerModel; a Comparison and a shelf become Plans."""
