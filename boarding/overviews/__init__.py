"""Reading over several tables for one page or paper; everything here returns plain or frozen values."""

from boarding.overviews.now import (
    holds_of,
    occupancy_of,
    open_stay_of,
    place_of,
    standing_of,
    standing_row_of,
)

__all__ = ["holds_of", "occupancy_of", "open_stay_of", "place_of", "standing_of", "standing_row_of"]
