"""What people type about work, materials and what is due."""
