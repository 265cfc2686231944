"""From a gap to plans, mixes, leaf and strips."""
