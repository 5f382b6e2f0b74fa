"""What the database itself holds about work and the care ledger."""

from nursery import triggers

GUARDS = [
    triggers.frozen_when("care_ledgerentry", "OLD.lock <> ''", says="a billed entry never changes"),
    triggers.append_only("care_certificate", says="a certificate is not rewritten; withdraw it"),
    triggers.append_only("care_certificatewithdrawal", says="a withdrawal stands"),
    triggers.append_only("care_handbackreport", says="a handback report is not rewritten"),
    triggers.append_only("care_duemove", says="a move of a due day stands as it was told"),
    triggers.frozen_when(
        "care_reminder", "1=1", may_change=["mail_id"], says="a claimed reminder stays claimed"
    ),
    triggers.refuse(
        "care_reminder",
        "goes_on_from_what_never_left",
        ["UPDATE"],
        "EXISTS (SELECT 1 FROM care_remindermail m WHERE m.id = OLD.mail_id"
        " AND (m.failed_at IS NULL OR m.handed_over_at IS NOT NULL))",
        says="only what never left goes with a later mail",
    ),
    triggers.frozen_when(
        "care_customernotice",
        "1=1",
        may_change=[
            "handed_over_at",
            "sent_at",
            "failed_at",
            "failure",
            "perhaps_seen_at",
            "perhaps_seen_by_id",
        ],
        says="the words to a customer are fixed",
    ),
    triggers.append_only("care_toldtreatment", says="what a customer was told stays told"),
    triggers.refuse(
        "care_timeentry",
        "keeps_what_was_measured",
        ["UPDATE"],
        "OLD.measured_started_at <> NEW.measured_started_at"
        " OR (OLD.measured_stopped_at IS NOT NULL AND NEW.measured_stopped_at IS NOT NULL"
        " AND OLD.measured_stopped_at <> NEW.measured_stopped_at)",
        says="what was measured stays beside every correction",
    ),
    triggers.refuse(
        "care_timeentry", "is_struck_out_not_removed", ["DELETE"], "1=1", says="strike it out instead"
    ),
    triggers.refuse(
        "care_dueitem", "ends_with_a_reason", ["DELETE"], "1=1", says="a due item ends; it never vanishes"
    ),
    triggers.refuse(
        "care_dueitem",
        "ends_once",
        ["UPDATE"],
        "OLD.state <> 'open' AND NEW.state <> OLD.state",
        says="a due item ends once",
    ),
    triggers.refuse(
        "care_contactcase", "is_closed_not_removed", ["DELETE"], "1=1", says="a contact case is never removed"
    ),
    triggers.refuse(
        "care_contacttree",
        "stays_on_the_list",
        ["DELETE"],
        "1=1",
        says="a contact list is never made shorter",
    ),
    triggers.refuse(
        "care_contacttree",
        "keeps_what_was_told",
        ["UPDATE"],
        "OLD.told_at IS NOT NULL AND (NEW.told_at IS NULL OR OLD.told_at <> NEW.told_at"
        " OR OLD.told_words <> NEW.told_words OR OLD.told_way <> NEW.told_way)",
        says="what an owner was told stands",
    ),
]
