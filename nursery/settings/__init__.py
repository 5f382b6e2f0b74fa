"""Settings by place of use: development (also for make demo and make start), production, testing."""
