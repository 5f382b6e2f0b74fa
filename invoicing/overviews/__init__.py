"""What invoicing knows, read over several tables and handed out as plain values."""
