"""Who stands at the bench with a tree asks what its work is limited to. boarding and care only name the place."""

import datetime as dt
from dataclasses import dataclass

from nursery.models import Tree

LIMIT = "bench.limit"


@dataclass(frozen=True)
class AtBench:
    """A tree at an instant: clocks run on it, so the day alone says too little."""

    tree: Tree
    at: dt.datetime
