"""What the database itself holds on the floor."""

from nursery import triggers

IN_FORCE = "p.in_force_at IS NOT NULL"

GUARDS = [
    triggers.append_only("nursery_auditrow", says="the audit trail is only ever added to"),
    triggers.append_only("nursery_keptfile", says="a kept file never changes"),
    triggers.append_only("nursery_paper", says="issued documents are frozen"),
    triggers.append_only("nursery_paperfile", says="the file of a document is made once"),
    triggers.frozen_when("nursery_papermail", "OLD.sent_at IS NOT NULL", says="what was sent stays sent"),
    triggers.refuse(
        "nursery_papermail", "never_vanishes", ["DELETE"], "1=1", says="a mail that was asked for stays"
    ),
    triggers.frozen_when(
        "nursery_deadaddress", "OLD.cleared_at IS NOT NULL", says="what was cleared stays; note it anew"
    ),
    triggers.refuse(
        "nursery_deadaddress", "never_vanishes", ["DELETE"], "1=1", says="an address is cleared, not removed"
    ),
    triggers.append_only(
        "nursery_consent", says="what somebody said is not rewritten; ask again and add the answer"
    ),
    triggers.append_only("nursery_heirproof", says="a proof of succession is not rewritten"),
    triggers.append_only("nursery_partyaddress", says="an address is not rewritten; add a new version"),
    triggers.frozen_when(
        "nursery_ratecard", "OLD.in_force_at IS NOT NULL", says="a rate card in force never changes"
    ),
    triggers.frozen_child("nursery_classrate", "card_id", "nursery_ratecard", IN_FORCE),
    triggers.frozen_child("nursery_labourrate", "card_id", "nursery_ratecard", IN_FORCE),
    triggers.frozen_child("nursery_fixedrate", "card_id", "nursery_ratecard", IN_FORCE),
    triggers.frozen_when("nursery_tag", "OLD.retired_at IS NOT NULL", says="a retired tag never comes back"),
    triggers.refuse(
        "nursery_tag",
        "keeps_its_code",
        ["UPDATE"],
        "OLD.code <> NEW.code OR OLD.tree_id <> NEW.tree_id",
        says="a tag code stays with its tree",
    ),
    triggers.refuse(
        "nursery_numberseries",
        "only_rises",
        ["UPDATE"],
        "NEW.last < OLD.last OR (OLD.last_on IS NOT NULL AND NEW.last_on < OLD.last_on)",
        says="numbers and their days only rise",
    ),
]
