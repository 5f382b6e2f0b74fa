"""What invoicing does: draw up, discard, issue, record payments. The only writers of its tables."""
