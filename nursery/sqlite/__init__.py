"""SQLite as a database engine that keeps its triggers: ENGINE = "nursery.sqlite"."""
