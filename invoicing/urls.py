"""Addresses of the invoicing pages."""

from django.urls import URLPattern, URLResolver, path

from invoicing.views import bank, credits, e_invoices, invoices, money, payments, rates, write_offs

urlpatterns: list[URLPattern | URLResolver] = [
    path("money/", money.money, name="money"),
    path("people/<int:pk>/account/", money.account, name="account"),
    path("people/<int:pk>/payment/", payments.payment_add, name="payment_add"),
    path("people/<int:pk>/draw-up/", invoices.invoice_draw_up, name="invoice_draw_up"),
    path("people/<int:pk>/statement/", money.statement, name="statement"),
    path("people/<int:pk>/statement/print/", payments.statement_print, name="statement_print"),
    path("money/bank/", bank.bank_files, name="bank_files"),
    path("bank-files/<int:pk>/", bank.bank_file, name="bank_file"),
    path("bank-files/<int:pk>/columns/", bank.bank_columns, name="bank_columns"),
    path("bank-files/<int:pk>/book/", bank.bank_book, name="bank_book"),
    path("bank-files/<int:pk>/drop/", bank.bank_drop, name="bank_drop"),
    path("bank-rows/<int:pk>/", bank.bank_row, name="bank_row"),
    path("payments/unclear/", payments.payment_unclear, name="payment_unclear"),
    path("payments/<int:pk>/", payments.payment, name="payment"),
    path("payments/<int:pk>/against/", payments.payment_against, name="payment_against"),
    path("payments/<int:pk>/give/", payments.payment_give, name="payment_give"),
    path("payments/<int:pk>/refund/", payments.payment_refund, name="payment_refund"),
    path("payments/<int:pk>/reverse/", payments.payment_reverse, name="payment_reverse"),
    path("payments/<int:pk>/receipt/", payments.payment_receipt, name="payment_receipt"),
    path("invoices/<int:pk>/write-off/", write_offs.invoice_write_off, name="invoice_write_off"),
    path("write-offs/<int:pk>/back/", write_offs.write_off_back, name="write_off_back"),
    path("invoices/<int:pk>/", invoices.invoice, name="invoice"),
    path("invoices/<int:pk>/issue/", invoices.invoice_issue, name="invoice_issue"),
    path("invoices/<int:pk>/discard/", invoices.invoice_discard, name="invoice_discard"),
    path("invoices/<int:pk>/use-credit/", invoices.invoice_use_credit, name="invoice_use_credit"),
    path("invoices/<int:pk>/credit/", credits.invoice_credit, name="invoice_credit"),
    path("invoices/<int:pk>/cii/", e_invoices.invoice_cii, name="invoice_cii"),
    path("invoices/<int:pk>/ubl/", e_invoices.invoice_ubl, name="invoice_ubl"),
    path("credit-notes/<int:pk>/cii/", e_invoices.credit_cii, name="credit_cii"),
    path("credit-notes/<int:pk>/ubl/", e_invoices.credit_ubl, name="credit_ubl"),
    path("rates/", rates.rates, name="rates"),
    path("rates/next/", rates.rate_card_next, name="rate_card_next"),
    path("rates/<int:pk>/", rates.rate_card, name="rate_card"),
    path("rates/<int:pk>/prices/", rates.rate_card_prices, name="rate_card_prices"),
    path("rates/<int:pk>/drop/", rates.rate_card_drop, name="rate_card_drop"),
]
