"""The figures of the house, measured as ratios and medians within one run."""
