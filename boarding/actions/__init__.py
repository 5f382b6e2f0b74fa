"""The verbs of custody: the only writers of stays, places, reports and holds."""
