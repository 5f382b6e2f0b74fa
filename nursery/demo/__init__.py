"""The invented Derrynavail Nursery, built by the real actions."""
