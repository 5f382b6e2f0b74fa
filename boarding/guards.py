"""What the database itself holds about custody and what was seen."""

from dataclasses import replace

from boarding import states
from nursery import triggers

CLOSED = ", ".join(f"'{state.value}'" for state in states.StayState if state not in states.OPEN)

# The floor closes benches and knows no trees on them; the database tells it (nursery.actions.benches.close_bench).
OCCUPIED_BENCH = triggers.refuse(
    "nursery_bench",
    "occupied_stays_open",
    ["UPDATE"],
    "OLD.closed_on IS NULL AND NEW.closed_on IS NOT NULL AND EXISTS "
    "(SELECT 1 FROM boarding_occupancy o WHERE o.bench_id = OLD.id AND o.until_at IS NULL)",
    says="a bench on which trees stand is not closed",
)

GUARDS = [
    replace(OCCUPIED_BENCH, needs=OCCUPIED_BENCH.needs | {"boarding_occupancy"}),
    triggers.no_overlap(
        "boarding_occupancy", "tree_id", "from_at", "until_at", says="a tree stands in one place"
    ),
    triggers.no_overlap(
        "boarding_standingrow", "tree_id", "since_at", "until_at", says="a tree has one standing"
    ),
    triggers.append_only("boarding_look", says="an inspection is not rewritten"),
    triggers.append_only("boarding_finding", says="a finding is not rewritten"),
    triggers.append_only("boarding_signature", says="a signature is not rewritten"),
    triggers.append_only("boarding_collectionnotice", says="a notice that was sent is not rewritten"),
    triggers.append_only(
        "boarding_classchange", says="a change of class is not rewritten; write down the one that holds"
    ),
    triggers.append_only("boarding_handback", says="a handback is not rewritten"),
    triggers.frozen_when(
        "boarding_agreement", "OLD.signed_at IS NOT NULL", says="a signed agreement is frozen"
    ),
    triggers.frozen_when(
        "boarding_conditionreport", "OLD.finished_at IS NOT NULL", says="a finished report is not rewritten"
    ),
    triggers.frozen_child(
        "boarding_partgrade", "report_id", "boarding_conditionreport", "p.finished_at IS NOT NULL"
    ),
    triggers.refuse(
        "boarding_stay",
        "stays_closed",
        ["UPDATE"],
        f"OLD.state IN ({CLOSED}) AND NEW.state <> OLD.state",
        says="a stay that has ended does not go on; it is a new stay",
    ),
]
