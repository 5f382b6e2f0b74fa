"""Addresses of the invoicing pages."""

from django.urls import URLPattern, URLResolver, path

from invoicing.views import invoices, money, payments, rates

urlpatterns: list[URLPattern | URLResolver] = [
    path("money/", money.money, name="money"),
    path("people/<int:pk>/account/", money.account, name="account"),
    path("people/<int:pk>/payment/", payments.payment_add, name="payment_add"),
    path("people/<int:pk>/draw-up/", invoices.invoice_draw_up, name="invoice_draw_up"),
    path("invoices/<int:pk>/", invoices.invoice, name="invoice"),
    path("invoices/<int:pk>/issue/", invoices.invoice_issue, name="invoice_issue"),
    path("invoices/<int:pk>/discard/", invoices.invoice_discard, name="invoice_discard"),
    path("invoices/<int:pk>/use-credit/", invoices.invoice_use_credit, name="invoice_use_credit"),
    path("rates/", rates.rates, name="rates"),
    path("rates/next/", rates.rate_card_next, name="rate_card_next"),
    path("rates/<int:pk>/", rates.rate_card, name="rate_card"),
    path("rates/<int:pk>/prices/", rates.rate_card_prices, name="rate_card_prices"),
    path("rates/<int:pk>/drop/", rates.rate_card_drop, name="rate_card_drop"),
]
