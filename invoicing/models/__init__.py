"""Money: drafts and invoices with their lines, payments, what they are set against, and what was given back."""

from invoicing.models.bank_files import BankFile, BankLayout, BankRow
from invoicing.models.credits import CreditEntry, CreditLine, CreditNote, CreditTax, ReopenedEntry
from invoicing.models.customers import AgreedPrice, VatTreatment
from invoicing.models.disputes import Dispute
from invoicing.models.e_invoice_notes import EInvoiceNote
from invoicing.models.estimates import Estimate, EstimateStep, EstimateVersion
from invoicing.models.goodwill import Goodwill
from invoicing.models.invoices import Invoice, InvoiceLine, InvoiceTax, LineEntry
from invoicing.models.journal import JournalAccount
from invoicing.models.late_interest import LateInterest, LateTerms
from invoicing.models.money_back import CashReceipt, CashRounding, Refund, Reversal, WriteOff
from invoicing.models.month_end import MonthEnd, MonthEndBill
from invoicing.models.notices import TariffNotice
from invoicing.models.payments import Allocation, InvoiceAccount, Payment, PaymentAccount
from invoicing.models.reminding import PaymentReminder, RemindedBill, ReminderRules

__all__ = [
    "AgreedPrice",
    "Allocation",
    "BankFile",
    "BankLayout",
    "BankRow",
    "CashReceipt",
    "CashRounding",
    "CreditEntry",
    "CreditLine",
    "CreditNote",
    "CreditTax",
    "Dispute",
    "EInvoiceNote",
    "Estimate",
    "EstimateStep",
    "EstimateVersion",
    "Goodwill",
    "Invoice",
    "InvoiceAccount",
    "InvoiceLine",
    "InvoiceTax",
    "LateInterest",
    "LateTerms",
    "JournalAccount",
    "LineEntry",
    "MonthEnd",
    "MonthEndBill",
    "Payment",
    "PaymentAccount",
    "PaymentReminder",
    "Refund",
    "RemindedBill",
    "ReminderRules",
    "ReopenedEntry",
    "Reversal",
    "TariffNotice",
    "VatTreatment",
    "WriteOff",
]
