"""Measured data against the model: what could be read in the open, with bias and scatter. See docs/validation.md."""
