"""The floor's pages: each reads a form, calls one action or overview, and answers."""
