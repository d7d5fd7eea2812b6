"""What to do next: readings, swaps and repairs, by expected gain per minute and in order of risk."""
