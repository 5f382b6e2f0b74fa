"""The verbs of care: the only writers of work, materials, due items, reminders and the care ledger."""
