"""What is shown of an answer, in words and rows, before any layout."""
