"""What each load of the inventory should use."""
