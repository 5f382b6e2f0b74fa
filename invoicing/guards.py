"""What the database itself holds about money: issued documents never change."""

from nursery import triggers

ISSUED = "p.issued_at IS NOT NULL"
FROZEN = "issued documents are frozen"

GUARDS = [
    triggers.frozen_when("invoicing_invoice", "OLD.issued_at IS NOT NULL", says=FROZEN),
    triggers.frozen_child("invoicing_invoiceline", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.frozen_child("invoicing_lineentry", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.frozen_child("invoicing_invoicetax", "invoice_id", "invoicing_invoice", ISSUED, says=FROZEN),
    triggers.append_only("invoicing_payment", says="a payment is not rewritten; reverse it"),
    triggers.append_only("invoicing_allocation", says="an allocation is not rewritten"),
]
