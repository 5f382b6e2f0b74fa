"""What the database itself holds about custody and what was seen."""

from boarding import states
from nursery import triggers

CLOSED = ", ".join(f"'{state.value}'" for state in states.StayState if state not in states.OPEN)

GUARDS = [
    triggers.no_overlap(
        "boarding_occupancy", "tree_id", "from_at", "until_at", says="a tree stands in one place"
    ),
    triggers.no_overlap(
        "boarding_standingrow", "tree_id", "since_at", "until_at", says="a tree has one standing"
    ),
    triggers.append_only("boarding_look", says="an inspection is not rewritten"),
    triggers.append_only("boarding_finding", says="a finding is not rewritten"),
    triggers.append_only("boarding_signature", says="a signature is not rewritten"),
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
