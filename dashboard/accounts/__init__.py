"""Who may come in to the pages, and the few plain pages on which that is settled."""
