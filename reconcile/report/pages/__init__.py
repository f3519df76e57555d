"""Pages and letters: the templates filled."""
