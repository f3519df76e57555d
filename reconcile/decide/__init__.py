"""What the weighing allows to be said: rules of decision, what could hide all the same, what the householder told."""
