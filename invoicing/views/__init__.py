"""The pages of invoicing: each reads a form, calls one action or overview, and answers."""
