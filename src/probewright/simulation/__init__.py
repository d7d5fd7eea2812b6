"""Circuits solved in whole batches. True of any circuit, healthy or not."""
