"""The lists of care as ruled tables."""
