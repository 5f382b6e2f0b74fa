"""Money: drafts and invoices with their lines, payments and what they are set against."""

from invoicing.models.invoices import Invoice, InvoiceLine, InvoiceTax, LineEntry
from invoicing.models.payments import Allocation, InvoiceAccount, Payment, PaymentAccount

__all__ = [
    "Allocation",
    "Invoice",
    "InvoiceAccount",
    "InvoiceLine",
    "InvoiceTax",
    "LineEntry",
    "Payment",
    "PaymentAccount",
]
