"""What people of each role do with their day."""
