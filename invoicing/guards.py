"""What the database itself holds about money: issued documents never change, no deposit is deducted twice."""

from dataclasses import replace

from nursery import triggers

ISSUED = "p.issued_at IS NOT NULL"
OFFERED = "p.state <> 'drawn_up'"
FROZEN = "issued documents are frozen"

CREDITED = "(SELECT COALESCE(SUM(c.{column}), 0) FROM invoicing_creditline c WHERE c.line_id = NEW.line_id)"
BILLED = "(SELECT b.{column} FROM invoicing_invoiceline b WHERE b.id = NEW.line_id)"


# What issued bills took of a deposit, less what of that was given back with them; {line} is its line, {also} a bill.
DEDUCTED = (
    "(SELECT COALESCE(SUM(-o.net), 0) FROM invoicing_invoiceline o JOIN invoicing_invoice i ON i.id = o.invoice_id"
    " WHERE o.deducts_id = {line} AND (i.issued_at IS NOT NULL{also}))"
    " + (SELECT COALESCE(SUM(c.net), 0) FROM invoicing_creditline c"
    " JOIN invoicing_invoiceline o ON o.id = c.line_id WHERE o.deducts_id = {line})"
)
DEPOSIT_GIVEN_BACK = "(SELECT COALESCE(SUM(c.net), 0) FROM invoicing_creditline c WHERE c.line_id = b.id)"
DEDUCTS_TOO_MUCH = (
    "OLD.issued_at IS NULL AND NEW.issued_at IS NOT NULL AND EXISTS (SELECT 1 FROM invoicing_invoiceline d"
    " JOIN invoicing_invoiceline b ON b.id = d.deducts_id WHERE d.invoice_id = NEW.id AND "
    + DEDUCTED.format(line="b.id", also=" OR i.id = NEW.id")
    + f" + {DEPOSIT_GIVEN_BACK} > b.net + 0.005)"
)


def _more_than_billed(column: str, step: str) -> str:
    """Whether the row would take back more of its line than is left; half a step is for sums added in binary."""
    credited, billed = CREDITED.format(column=column), BILLED.format(column=column)
    deducted = f" + {DEDUCTED.format(line='NEW.line_id', also='')}" if column == "net" else ""
    return f"ABS({credited} + NEW.{column}){deducted} > ABS({billed}) + {step}"


# A bill that was taken back whole, to be billed anew, bills nothing any more; i is the bill.
STANDS = (
    "i.issued_at IS NOT NULL AND NOT EXISTS (SELECT 1 FROM invoicing_creditnote n"
    " WHERE n.invoice_id = i.id AND n.bills_anew)"
)

# Boarding knows no bills; the database tells it (boarding.actions.classes.change_class).
OF_A_BILLED_NIGHT = (
    "EXISTS (SELECT 1 FROM invoicing_invoiceline l JOIN invoicing_invoice i ON i.id = l.invoice_id"
    " WHERE l.stay_id = NEW.stay_id AND l.kind = 'boarding' AND l.until_on >= NEW.from_night"
    f" AND {STANDS})"
)
NIGHT_BILLED = triggers.refuse(
    "boarding_classchange",
    "of_nights_not_billed",
    ["INSERT"],
    f"NEW.wish = 'owner' AND {OF_A_BILLED_NIGHT}",
    says="nights that are billed keep their class",
)

# The price of a whole stay less what was billed: a price agreed for days already billed would reach back.
PRICE_OF_BILLED_DAYS = (
    "EXISTS (SELECT 1 FROM invoicing_invoiceline l JOIN invoicing_invoice i ON i.id = l.invoice_id"
    " WHERE i.payer_id = NEW.party_id AND l.kind NOT IN ('deposit', 'deducted')"
    f" AND l.until_on >= NEW.since_on AND {STANDS})"
)

GUARDS = [
    replace(
        NIGHT_BILLED,
        needs=NIGHT_BILLED.needs | {"invoicing_invoice", "invoicing_invoiceline", "invoicing_creditnote"},
    ),
    triggers.append_only("invoicing_creditnote", says=FROZEN),
    triggers.append_only("invoicing_creditline", says=FROZEN),
    triggers.append_only("invoicing_credittax", says=FROZEN),
    triggers.append_only("invoicing_creditentry", says=FROZEN),
    triggers.append_only("invoicing_reopenedentry", says=FROZEN),
    triggers.refuse(
        "invoicing_creditline",
        "no_more_quantity_than_billed",
        ["INSERT"],
        _more_than_billed("quantity", "0.05"),
        says="no more of a line is credited than was billed",
    ),
    triggers.refuse(
        "invoicing_creditline",
        "no_more_net_than_billed",
        ["INSERT"],
        _more_than_billed("net", "0.005"),
        says="no more of a line is credited than was billed",
    ),
    triggers.frozen_when("invoicing_invoice", "OLD.issued_at IS NOT NULL", says=FROZEN),
    triggers.refuse(
        "invoicing_invoice",
        "deducts_no_more_than_the_deposit",
        ["UPDATE"],
        DEDUCTS_TOO_MUCH,
        says="a deposit is deducted once",
    ),
    triggers.frozen_child("invoicing_invoiceline", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.frozen_child("invoicing_lineentry", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.frozen_child("invoicing_invoicetax", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.frozen_when(
        "invoicing_payment",
        "1=1",
        may_change=["party_id", "given_on"],
        says="a payment is not rewritten; reverse it",
    ),
    triggers.refuse(
        "invoicing_payment",
        "keeps_its_payer",
        ["UPDATE"],
        "OLD.party_id IS NOT NULL AND (NEW.party_id IS NULL OR NEW.party_id <> OLD.party_id"
        " OR COALESCE(NEW.given_on, '1900-01-01') <> COALESCE(OLD.given_on, '1900-01-01'))",
        says="a payment is given to a customer once; reverse it",
    ),
    triggers.append_only("invoicing_allocation", says="an allocation is not rewritten"),
    triggers.frozen_when(
        "invoicing_bankrow", "OLD.payment_id IS NOT NULL", says="a movement that is booked stays as it is"
    ),
    triggers.append_only("invoicing_refund", says="what was given back is not rewritten"),
    triggers.append_only("invoicing_reversal", says="a reversal is not rewritten"),
    triggers.append_only("invoicing_cashrounding", says="a rounding is not rewritten; undo it"),
    triggers.append_only("invoicing_writeoff", says="a write-off is not rewritten; take it back"),
    triggers.refuse(
        "invoicing_dispute",
        "is_settled_once",
        ["UPDATE"],
        "OLD.outcome <> ''",
        says="a settled dispute stays as it is; write another one down",
    ),
    triggers.frozen_when(
        "invoicing_dispute",
        "1=1",
        may_change=("outcome", "ended_words", "ended_on", "ended_at", "ended_by_id"),
        says="a dispute is not rewritten; settle it, and write another one down",
    ),
    triggers.append_only("invoicing_dispute_lines", says="a dispute is not rewritten"),
    triggers.append_only("invoicing_paymentreminder", says="a reminder that went out stays as it is"),
    triggers.append_only("invoicing_remindedbill", says="a reminder that went out stays as it is"),
    triggers.refuse(
        "invoicing_remindedbill",
        "one_level_at_a_time",
        ["INSERT"],
        "NEW.level > 1 AND NOT EXISTS (SELECT 1 FROM invoicing_remindedbill b"
        " WHERE b.invoice_id = NEW.invoice_id AND b.level = NEW.level - 1)",
        says="the levels of reminders go up one at a time",
    ),
    triggers.append_only("invoicing_lateinterest", says="interest kept is not rewritten; give it up"),
    triggers.refuse(
        "invoicing_lateterms",
        "are_not_rewritten",
        ["UPDATE"],
        "1=1",
        says="late terms are dropped and written anew",
    ),
    triggers.append_only("invoicing_einvoicenote", says="what became of an e-invoice is not rewritten"),
    triggers.append_only(
        "invoicing_agreedprice", says="a price agreed is not rewritten; add the one that holds now"
    ),
    triggers.refuse(
        "invoicing_agreedprice",
        "of_days_not_billed",
        ["INSERT"],
        PRICE_OF_BILLED_DAYS,
        says="days that are billed keep their price",
    ),
    triggers.append_only(
        "invoicing_tariffnotice", says="what a customer was told is not rewritten; tell them anew"
    ),
    triggers.refuse(
        "invoicing_tariffnotice",
        "of_nights_not_billed",
        ["INSERT"],
        OF_A_BILLED_NIGHT,
        says="nights that are billed keep their tariff",
    ),
    triggers.append_only(
        "invoicing_vattreatment", says="a VAT treatment is not rewritten; add the one that holds now"
    ),
    triggers.append_only("invoicing_cashreceipt", says="a receipt stays with its payment"),
    triggers.frozen_when(
        "invoicing_estimateversion",
        "OLD.state <> 'drawn_up'",
        may_change=("state", "consent_id", "covers_from_on"),
        says="an offered estimate never changes; draw up a new version",
    ),
    triggers.refuse(
        "invoicing_estimateversion",
        "is_answered_once",
        ["UPDATE"],
        "OLD.consent_id IS NOT NULL AND (NEW.consent_id IS NULL OR NEW.consent_id <> OLD.consent_id"
        " OR COALESCE(NEW.covers_from_on, '1900-01-01') <> COALESCE(OLD.covers_from_on, '1900-01-01'))",
        says="an answer stands",
    ),
    triggers.frozen_when(
        "invoicing_goodwill",
        "1=1",
        may_change=("taken_back_at", "taken_back_by_id"),
        says="goodwill is not rewritten; take it back",
    ),
    triggers.frozen_child(
        "invoicing_estimatestep", "version_id", "invoicing_estimateversion", OFFERED, says=FROZEN
    ),
    *(
        triggers.frozen_child(
            f"invoicing_estimateversion_{what}",
            "estimateversion_id",
            "invoicing_estimateversion",
            OFFERED,
            says=FROZEN,
        )
        for what in ("activities", "materials")
    ),
]
