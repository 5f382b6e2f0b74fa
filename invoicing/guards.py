"""What the database itself holds about money: issued documents never change."""

from nursery import triggers

ISSUED = "p.issued_at IS NOT NULL"
FROZEN = "issued documents are frozen"

GUARDS = [
    triggers.frozen_when("invoicing_invoice", "OLD.issued_at IS NOT NULL", says=FROZEN),
    triggers.frozen_child("invoicing_invoiceline", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.frozen_child("invoicing_lineentry", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.frozen_child("invoicing_invoicetax", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.frozen_when(
        "invoicing_payment", "1=1", may_change=["party_id"], says="a payment is not rewritten; reverse it"
    ),
    triggers.refuse(
        "invoicing_payment",
        "keeps_its_payer",
        ["UPDATE"],
        "OLD.party_id IS NOT NULL AND (NEW.party_id IS NULL OR NEW.party_id <> OLD.party_id)",
        says="a payment is given to a customer once; reverse it",
    ),
    triggers.append_only("invoicing_allocation", says="an allocation is not rewritten"),
    triggers.append_only("invoicing_refund", says="what was given back is not rewritten"),
    triggers.append_only("invoicing_reversal", says="a reversal is not rewritten"),
    triggers.append_only("invoicing_cashrounding", says="a rounding is not rewritten; undo it"),
    triggers.append_only("invoicing_writeoff", says="a write-off is not rewritten; take it back"),
    triggers.append_only("invoicing_cashreceipt", says="a receipt stays with its payment"),
]
