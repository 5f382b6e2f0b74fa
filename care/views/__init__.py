"""The pages of care."""
