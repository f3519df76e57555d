"""Figures of an answer: each draws, and says what it shows."""
