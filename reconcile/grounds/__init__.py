"""What an answer rests on: all that is certain, then the weighing, and what both leave in numbers."""
