"""The floor's verbs: the only writers of what has a history."""
