"""Money: drafts and invoices with their lines, payments, what they are set against, and what was given back."""

from invoicing.models.invoices import Invoice, InvoiceLine, InvoiceTax, LineEntry
from invoicing.models.money_back import CashReceipt, CashRounding, Refund, Reversal, WriteOff
from invoicing.models.payments import Allocation, InvoiceAccount, Payment, PaymentAccount

__all__ = [
    "Allocation",
    "CashReceipt",
    "CashRounding",
    "Invoice",
    "InvoiceAccount",
    "InvoiceLine",
    "InvoiceTax",
    "LineEntry",
    "Payment",
    "PaymentAccount",
    "Refund",
    "Reversal",
    "WriteOff",
]
