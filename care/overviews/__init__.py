"""Reading over several tables for one page or mail; everything here returns plain or frozen values."""
